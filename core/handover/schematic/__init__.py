"""A group with its circuit as a schematic: symbols of IEC 60617, placed by a drawing library."""
