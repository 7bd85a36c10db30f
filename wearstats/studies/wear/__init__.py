"""Wear and its growth."""
