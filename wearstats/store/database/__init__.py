"""The file and its connection: migrations, statements, failures told in words."""
