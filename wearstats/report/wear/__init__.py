"""How wear is shown."""
