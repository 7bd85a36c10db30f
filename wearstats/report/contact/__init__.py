"""How contact predicted and contact marked is shown."""
