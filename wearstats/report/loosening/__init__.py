"""How the time to working loose is shown."""
