"""General numerical tools without any word of the trade."""
