"""What was known of each gap when its hub was chosen."""
