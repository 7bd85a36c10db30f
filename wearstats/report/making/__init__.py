"""The making list as files: a page to print, and rows for the store once hubs are made."""
