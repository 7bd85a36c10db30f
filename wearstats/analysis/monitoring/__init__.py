"""Sequential analysis and control charts."""
