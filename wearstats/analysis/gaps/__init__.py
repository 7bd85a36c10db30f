"""What is known of the gap that a hub leaves: posterior, draws, and the nodes that a likelihood takes."""
