"""The quarterly review, and whom to call."""
