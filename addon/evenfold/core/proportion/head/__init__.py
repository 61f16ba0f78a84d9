"""Which points are the head, with weights and by shape."""
