"""What is kept beside the store, so that it need not be worked out again: answers, and what answers rest on."""
