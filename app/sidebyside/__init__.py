"""Candidates side by side on the same structure, load and temperatures."""
