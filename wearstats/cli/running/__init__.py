"""How a command runs: its options, the store opened for it, its answer printed, its exit code."""
