"""A customer's drawing as the plan outline of a beam: read, joined, laid on an axis, cut into stations."""
