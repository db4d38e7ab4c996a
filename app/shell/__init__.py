"""The window, the open project and its files."""
