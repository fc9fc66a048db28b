"""Measures the finished file and gives verdicts."""
