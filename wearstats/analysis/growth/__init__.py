"""Wear against running hours."""
