"""How measurement quality is shown."""
