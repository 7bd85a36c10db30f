"""What tolerances give a hub: standard fits, new and on worn shafts."""
