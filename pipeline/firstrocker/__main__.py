"""``python -m firstrocker`` is the same as the command ``firstrocker``."""

from __future__ import annotations

import os
import sys

# The matrices are small and the workflow runs a job per core: threads within a job would only get in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from firstrocker.cli import main

sys.exit(main())
