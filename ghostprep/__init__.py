"""Plans a reflected ghost for a miniature scene and prepares the loop that its hidden screen plays."""

__version__ = "0.1.0"
