"""The commands that need no window."""

COMMANDS = ("predict", "diff", "sheet", "template", "record", "card", "parts", "netlist", "study", "measure")
"""Their names; each has its parser in `commands.parser`, its line in `main.USAGE`."""
