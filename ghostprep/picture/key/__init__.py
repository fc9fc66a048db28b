"""Taking the backing to black, frame by frame."""
