"""How sure a plan is, what the doubt comes from, which shots to doubt and which to take next."""

from spadework.confidence.assess import assess
from spadework.confidence.objects import UNSURE, Confidence, DoubtfulShot, Figure, NextShot, StakeDoubt
from spadework.confidence.study import GroundStudy, study_ground

__all__ = [
    "UNSURE",
    "Confidence",
    "DoubtfulShot",
    "Figure",
    "GroundStudy",
    "NextShot",
    "StakeDoubt",
    "assess",
    "study_ground",
]
