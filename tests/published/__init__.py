"""Checks against outside sources; each value names its source where it stands."""
