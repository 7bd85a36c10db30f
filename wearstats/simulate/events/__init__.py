"""What happens to the invented shafts: wear, readings, choices, fittings, news."""
