"""How the shelf is shown."""
