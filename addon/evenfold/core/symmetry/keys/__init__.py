"""Shape keys: what each moves, alone, in pairs, and across two objects."""
