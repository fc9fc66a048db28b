"""What people look at: the drawings, the chart, the preview page."""
