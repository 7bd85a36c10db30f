"""The golden check: whether two checkouts give the same answers. See README.md here."""
