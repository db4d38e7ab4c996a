"""What uncertain inputs do to a candidate."""
