"""Spadework: from a few level readings to a level base."""

from __future__ import annotations

__version__ = "0.1.0"
