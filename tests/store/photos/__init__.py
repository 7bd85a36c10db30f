"""Photos beside the store."""
