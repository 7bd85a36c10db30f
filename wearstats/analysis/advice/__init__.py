"""Which hub fits one shaft: what each size would do, and the rule that chooses."""
