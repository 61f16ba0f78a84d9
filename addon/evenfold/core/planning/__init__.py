"""What follows from measured proportions: canons, comparison, and the plan to a target."""
