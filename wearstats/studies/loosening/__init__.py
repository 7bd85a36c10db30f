"""How long hubs stay tight."""
