"""Fit methods compared: on like shafts, in strata, and at every look."""
