"""What a placement gives: damping per mode, response, ring-down, limits, doubts."""
