"""The terminal app and the command line of Hingeleaf."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Matrices are small here: threads of numpy's algebra took five times the time that they saved.
