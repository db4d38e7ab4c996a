"""The page of what hangs on the leads: schematic, price of every value, stability, failures, parts, safety."""
