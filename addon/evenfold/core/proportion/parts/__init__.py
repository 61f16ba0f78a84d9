"""What each point of a figure belongs to: head, legs, jaw, or worn and left out."""
