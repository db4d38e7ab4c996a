"""Taking a customer's drawing in: the preview dialog, its drawing, and tracing a picture."""
