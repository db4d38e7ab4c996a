"""The placement diagram: one sheet a face."""
