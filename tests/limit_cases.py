"""Pads, goals and limits of every kind in a small yard of 24 m by 20 m, for tests and studies."""

from __future__ import annotations

import numpy as np

from spadework.pad import Pad
from spadework.pad_shapes import circle, l_shape
from spadework.placement import GOALS, Goal
from spadework.placement.land import land_rings
from spadework.placement.limits import (
    BearingLimit,
    FacingLimit,
    FinishLimit,
    KeepOut,
    Limits,
    PositionLimit,
    ReachLimit,
)

__all__ = ["BOTH", "CASES", "GOAL", "PAD"]

PAD = Pad.rectangle(4.0, 3.0)
ELL = Pad(l_shape(4.0, 4.0, "C", (2.0, 1.5)))
ROUND = Pad(circle(1.8), radius=1.8)
GOAL = GOALS["digging"]
BOTH = GOALS["balance"]
EAST = np.array([[2.0, 2.0], [13.0, 2.0], [13.0, 18.0], [2.0, 18.0]])
WEST = np.array([[13.0, 2.0], [22.0, 2.0], [22.0, 10.0], [13.0, 10.0]])
WELL = np.array([[6.0, 6.0], [8.0, 6.0], [8.0, 8.0]])

RANGES = BearingLimit(ranges=((200.0, 25.0), (80.0, 5.0)))
TWO_WAYS = BearingLimit(ranges=((40.0, 0.0), (220.0, 0.0)))
DRAIN = KeepOut.line("drain", np.array([[0.0, 8.0], [14.0, 9.0], [14.0, 20.0]]), 1.2)
CASES: dict[str, tuple[Pad, Goal, Limits]] = {
    "near and ranges": (PAD, BOTH, Limits(bearing=RANGES, reaches=(ReachLimit("drive", 26.0, 3.0, 6.0, "nearest"),))),
    "hose and two ways": (ELL, GOAL, Limits(bearing=TWO_WAYS, reaches=(ReachLimit("tap", 3.0, 3.0, 5.0, "farthest"),))),
    "facing": (PAD, GOAL, Limits(facings=(FacingLimit("gate", 12.0, -2.0, 25.0, "BC"),))),
    "pieces and a drain": (PAD, GOAL, Limits((*land_rings([(EAST, WELL), (WEST,)]),), 0.5, keep_outs=(DRAIN,))),
    "round": (ROUND, GOAL, Limits(boundary=(EAST,), setback=0.5, bearing=BearingLimit(0.0))),
    "window": (PAD, GOAL, Limits(finish=FinishLimit(lowest=99.9, highest=100.1), bought=50.0)),
    "slope": (PAD, GOAL, Limits(boundary=(EAST,), ground_slope=0.06)),
    "carted and bought": (PAD, BOTH, Limits(carted=0.1, bought=0.2, fill_depth=0.15)),
    "corner": (ELL, GOAL, Limits(position=PositionLimit(9.0, 9.0, "D"), bearing=BearingLimit(ranges=((10.0, 60.0),)))),
}
