"""Checking many files unattended, each in a process that may fail without harming the rest."""
