"""The 1:1 template."""
