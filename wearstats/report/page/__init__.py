"""The self-contained page: its parts, and how it becomes a file."""
