"""The hand-over: sheets on screen and on paper."""
