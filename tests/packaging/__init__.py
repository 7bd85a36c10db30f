"""What an installed wearstats brings along, and what it runs with."""
