"""Measurement quality."""
