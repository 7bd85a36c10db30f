"""Property tests try the same examples on every machine and are not timed: a busy machine is no failure."""

from hypothesis import settings

settings.register_profile("same everywhere", deadline=None, derandomize=True)
settings.load_profile("same everywhere")
