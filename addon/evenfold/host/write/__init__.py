"""What makes new data in the artist's file, always on request."""
