"""How the answer for one shaft is shown."""
