"""The page of what the prototype did: files, what was understood, modes, verdict, comparison, correction."""
