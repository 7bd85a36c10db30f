"""What tolerances give a hub, told."""
