"""Many layouts solved together."""
