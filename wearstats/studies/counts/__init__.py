"""What happened, counted over all hubs."""
