"""What the builder measured: the scene file, lengths and scales, checks, a starter file."""
