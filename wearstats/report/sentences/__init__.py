"""One file a question: a result becomes words."""
