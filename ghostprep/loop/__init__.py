"""Across time: where to join, how to blend, what to repeat."""
