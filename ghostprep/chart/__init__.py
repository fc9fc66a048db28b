"""The test loop for the real box, and what was seen of it."""
