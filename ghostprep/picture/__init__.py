"""One frame: arrays in, arrays out."""
