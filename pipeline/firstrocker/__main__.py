"""``python -m firstrocker`` is the same as the command ``firstrocker``."""

from __future__ import annotations

import sys

from firstrocker.cli import main

sys.exit(main())
