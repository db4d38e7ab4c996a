"""Help pages, cautions and the about box."""
