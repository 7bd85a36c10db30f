"""One file a question: reads the store, calls the analysis, returns one result."""
