"""Limits and fits, standard splines, selective assembly, press fits and guard bands."""
