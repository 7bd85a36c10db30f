"""Rows kept out at intake: written down with their reasons, listed, mended, dismissed."""
