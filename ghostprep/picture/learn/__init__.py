"""What is behind the figure, learned from glimpses over a clip."""
