"""What an engine asks of a figure besides its symmetry."""
