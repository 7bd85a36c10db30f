"""Bytes into text cells, no table known yet."""
