"""The Weibull model of working loose against the gap left."""
