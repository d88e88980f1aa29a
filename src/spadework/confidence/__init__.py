"""How sure a plan is, what the doubt comes from, which shots to doubt and which to take next."""

from spadework.confidence.assess import assess
from spadework.confidence.objects import Confidence, DoubtfulShot, Figure, NextShot, StakeDoubt

__all__ = ["Confidence", "DoubtfulShot", "Figure", "NextShot", "StakeDoubt", "assess"]
