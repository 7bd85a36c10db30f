"""The distribution of true wear, freed of the readings' error."""
