"""What was added is taken back, and names are put right; every row as it stood stays in the history."""
