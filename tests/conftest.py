"""Property tests try the same examples on every machine and are not timed: a busy machine is no failure."""

import os

# every process of a parallel run has a core of its own; threads of the algebra would only wait for one another. Read
# when the libraries are loaded, so it stands before them
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

from hypothesis import settings

settings.register_profile("same everywhere", deadline=None, derandomize=True)
settings.load_profile("same everywhere")
