"""What the eye will see: the preview page, one still picture, a photograph of the box."""
