"""Measuring and comparing, without a host: standard library, numpy and this package only."""
