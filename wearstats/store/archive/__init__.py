"""Out of the store: backup, export, and reading it through."""
