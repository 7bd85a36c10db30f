"""Non-parametric curves of the time to working loose, with silent owners allowed for."""
