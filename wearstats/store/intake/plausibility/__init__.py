"""What can be so and what cannot: a file that brings what cannot be has those rows kept out, with the reason."""
