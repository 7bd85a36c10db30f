"""Which sizes to keep: what each costs a shaft, the best sets of them, and what gauging every hub would save."""
