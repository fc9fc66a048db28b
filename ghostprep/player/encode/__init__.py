"""What to ask of each encoder; a file a coding."""
