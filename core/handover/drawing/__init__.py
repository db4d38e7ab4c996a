"""Plain drawing items and the media they are written in."""
