"""How the calls are shown: whom to warn and to ask, and who has a hub of a batch."""
