"""Files nobody meant to write: mutated projects and drawings, read as a person's would be."""
