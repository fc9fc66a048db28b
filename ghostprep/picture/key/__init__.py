"""Taking the backing to black: learned once from a clip's glimpses, then frame by frame."""
