"""The drawing the hand drags on: everything that is a function of x on one shared axis."""
