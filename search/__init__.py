"""From a complaint to an answer: reading, index, ranking, causes, checks, figures."""

import os

# Learning from a notebook is many small products of matrices, in which threads wait for each other longer
# than they work: on two busy cores they take five times the processor time. Heeded if numpy comes later.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
