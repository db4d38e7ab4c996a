"""The papers: documents on screen, on paper and in files."""
