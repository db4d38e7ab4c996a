"""Where to put it, with what on its leads: a search over layouts."""
