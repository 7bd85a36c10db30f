"""How the quarterly review and the calls are shown."""
