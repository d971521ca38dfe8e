"""How people drive it: the job folder, the command line, the papers."""

import os

# The adjustment's matrices are small: one thread solves them in a sixth of the time that several take to share them.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
