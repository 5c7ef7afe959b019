"""The terminal app and the command line of Hingeleaf."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Matrices are small here: numpy's BLAS threads took five times the time that they saved.
