"""Which way a figure faces, and which way is up."""
