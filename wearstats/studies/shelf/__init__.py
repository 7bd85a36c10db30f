"""The shelf: hubs there by number, hubs out on loan, and what a count says against it."""
