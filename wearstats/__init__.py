"""Statistics for splined drive hubs on worn shafts."""

__version__ = "0.1.0"
