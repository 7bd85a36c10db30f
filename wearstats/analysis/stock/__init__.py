"""Which sizes to keep, and how many of each to make."""
