"""The invented scenario's numbers."""
