"""Failures to come, and past quarters predicted again as known then."""
