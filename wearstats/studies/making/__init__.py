"""The making list: every size to make now, with its limits, bore, number and engraving."""
