"""How sizes and quantities are shown."""
