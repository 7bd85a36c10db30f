"""Proportions, two-by-two tables and Poisson rates."""
