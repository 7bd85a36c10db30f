"""One file a question: a result becomes an Altair chart."""
