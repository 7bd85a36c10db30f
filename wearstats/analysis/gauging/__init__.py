"""Measurement quality: bias, repeatability, gauge studies, outliers, and plans for measuring."""
