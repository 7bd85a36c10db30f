"""Files into tables: values or problems, and rows that come in or are kept out with reasons."""
