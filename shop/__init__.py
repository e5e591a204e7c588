"""Facewright keeps the surfaces of injection moulds in their finish for the life of the tool."""

import os

# Its arrays are small: a second thread for each of many short sums waits longer than it works, many times over where
# other processes share the machine. numpy reads this when it is first imported.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

__version__ = "0.1.0"
