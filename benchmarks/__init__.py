"""Measurements of what Evenhand hears, and how surely.

One core for everybody: numeric libraries read these settings when they are first imported.
"""

import os

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
