"""How the fit methods are shown side by side."""
