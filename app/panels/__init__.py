"""The column of fields that edits the project, and the editors it opens."""
