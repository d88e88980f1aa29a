"""What the plan asks of the builder: the edge, what to buy and cut, what to do in which order, and what to mind."""

from __future__ import annotations

from spadework.build.cautions import Caution, cautions_for
from spadework.build.options import BuildOptions
from spadework.build.whole import BuildPlan, build_plan

__all__ = ["BuildOptions", "BuildPlan", "Caution", "build_plan", "cautions_for"]
