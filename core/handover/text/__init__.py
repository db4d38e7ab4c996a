"""Cards and records: words, tables and figures on pages."""
