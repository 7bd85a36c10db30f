"""What tables and columns of the contract are made of."""
