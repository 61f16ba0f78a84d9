"""Invented figures sculpted from smooth distance fields, with crown, chin and sole known."""
