"""Fit methods compared."""
