"""Cold, reference and hot."""
