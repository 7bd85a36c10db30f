"""Numbers and texts that serve all questions."""
