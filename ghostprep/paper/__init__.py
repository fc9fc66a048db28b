"""Drawings of a plan and its parts at 1:1."""
