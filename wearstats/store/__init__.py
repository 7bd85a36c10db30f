"""What happened: the DuckDB file, its migrations, the intake of files, its backup; no statistics."""
