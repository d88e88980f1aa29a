"""``python -m spadework.cli`` is the same as ``spadework``."""

from __future__ import annotations

import sys

from spadework.cli import main

if __name__ == "__main__":
    sys.exit(main())
