"""Left and right in names: one place for every spelling."""
