"""How anything is drawn or printed: theme, charts, tables, files."""
