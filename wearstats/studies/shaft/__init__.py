"""Which hub for one shaft."""
