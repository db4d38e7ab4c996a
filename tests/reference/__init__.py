"""Independent routes to the numbers the core computes: other methods, no code shared with it."""
