"""Physics on a scene: images in the pane, sightlines, light. No files, no pixels, no clip."""
