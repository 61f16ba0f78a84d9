"""What a figure stands on: whether it stands at all, its legs, feet and sole."""
