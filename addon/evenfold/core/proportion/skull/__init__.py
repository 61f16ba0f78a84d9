"""Where the skull ends above, whatever stands on it or covers it."""
