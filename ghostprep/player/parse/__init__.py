"""Reads what a file itself says: boxes, chunks and bit streams, without an outside reader."""
