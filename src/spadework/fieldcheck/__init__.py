"""The check: levels taken on the work against the plan, and what they say."""

from spadework.fieldcheck.amounts import Amounts, LayerNeed
from spadework.fieldcheck.check import CheckedPoint, FieldCheck, field_check, usual_straight_edge
from spadework.fieldcheck.flatness import StraightEdge, under_straight_edge
from spadework.fieldcheck.plane import BuiltPlane, built_plane
from spadework.fieldcheck.stages import Stage, default_tolerance, stage_named, stage_names, tolerance_given
from spadework.fieldcheck.verdict import doubts, findings, stage_words, to_do, verdict
from spadework.fieldcheck.wanted import Wanted
from spadework.fieldcheck.water import Hollow, hollows, standing_water

__all__ = [
    "Amounts",
    "BuiltPlane",
    "CheckedPoint",
    "FieldCheck",
    "Hollow",
    "LayerNeed",
    "Stage",
    "StraightEdge",
    "Wanted",
    "built_plane",
    "default_tolerance",
    "doubts",
    "field_check",
    "findings",
    "hollows",
    "stage_named",
    "stage_names",
    "stage_words",
    "standing_water",
    "to_do",
    "tolerance_given",
    "under_straight_edge",
    "usual_straight_edge",
    "verdict",
]
