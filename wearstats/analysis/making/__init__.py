"""What is to be made, within which limits: learnt from how batches came out."""
