"""The tests. Several processes share them, so that one thread each for linear algebra is enough."""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")  # before anything imports numpy
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("SWING_TEST_RUN", str(os.getpid()))  # the first process hands it on
