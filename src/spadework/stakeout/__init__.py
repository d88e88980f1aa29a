"""Stakes: where each corner of the pad stands, how it is taped, and what to do there.

Everything is plane geometry: tapes are held level, so ties, sides and diagonals are plan distances.
"""

from spadework.stakeout.objects import DepthGrid, Span, Stake, StakeOut, Tie
from spadework.stakeout.reach import error_words
from spadework.stakeout.rods import depth_mark, grade_rod, height_of_instrument
from spadework.stakeout.setting_out import stake_out
from spadework.stakeout.squaring import corner_shift, skew_angle
from spadework.stakeout.taping import TAPE_SD

__all__ = [
    "TAPE_SD",
    "DepthGrid",
    "Span",
    "Stake",
    "StakeOut",
    "Tie",
    "corner_shift",
    "depth_mark",
    "error_words",
    "grade_rod",
    "height_of_instrument",
    "skew_angle",
    "stake_out",
]
