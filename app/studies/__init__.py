"""Studies on screen: maps of placements and searches."""
