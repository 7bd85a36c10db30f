"""From records to one history a fitting."""
