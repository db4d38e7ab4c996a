"""Every colour, pen and font."""
