"""The round register that centres a hub: which bore goes over it, and whether a hub's does."""
