"""Out of the store and into arrays, once for all questions."""
