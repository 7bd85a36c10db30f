"""Sizes and quantities."""
