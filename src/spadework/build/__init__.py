"""What the plan asks of the builder."""

from __future__ import annotations

from spadework.build.cautions import Caution, cautions_for

__all__ = ["Caution", "cautions_for"]
