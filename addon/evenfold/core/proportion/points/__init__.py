"""Sampling surfaces and telling their pieces apart."""
