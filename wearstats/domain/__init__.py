"""What the trade is: units, patterns, limits and fits, contact geometry; pure and without frames."""
