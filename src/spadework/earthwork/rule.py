"""How the formation level of a placement is chosen, between which bounds, and what comes back for each pose."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
import numpy.typing as npt

from spadework.readings import FloatArray

__all__ = ["LevelRule", "PadLevels", "Status"]

Kind = Literal["balanced", "weights", "fixed", "flush", "goal", "flush-low"]
KINDS: tuple[Kind, ...] = ("balanced", "weights", "fixed", "flush", "goal", "flush-low")


class Status(IntEnum):
    """Whether a placement is allowed at the level that the rule gives, and if not, why."""

    ALLOWED = 0
    NOT_COVERED = 1
    """Part of the pad lies outside the measured ground."""
    LIMITS_CROSS = 2
    """No level keeps exposed edge, cut depth, fill depth and finish bounds at once."""
    OUTSIDE_LIMITS = 3
    """The fixed or flush level breaks one of those limits."""
    NO_ROOM = 4
    """With banks: at that level, or at any, they would leave the land or run into what is kept clear of."""
    TOO_STEEP = 5
    """With banks: the ground is as steep as they are, and would be met again beyond where it is first met."""


@dataclass(frozen=True, slots=True)
class LevelRule:
    """The rule for the formation level at a placement.

    Parameters
    ----------
    kind : str
        ``"balanced"``: ``keep cut + bought = fill``, the highest level that needs no more soil than that.
        ``"weights"``: least ``cut_weight cut + fill_weight fill``; the middle where a range of levels gives the least.
        ``"fixed"``: the finish level is ``finish``.
        ``"flush"``, ``"flush-low"``: the finish level is that of the highest or the lowest ground along the edge.
        ``"goal"``: least ``cut_weight cut + fill_weight fill + over_weight over + short_weight short + wall_weight
        wall``, with ``spare = keep cut + at_hand - fill``, ``over = max(spare, 0) / keep``, ``short = max(-spare, 0)``,
        no more than ``most_short`` of it, and ``wall`` the greatest height between finish and ground along the edge.
        ``"balanced"``, ``"weights"`` and ``"goal"`` are held between the limits; the others are not allowed where they
        break one.
    keep : float
        Compacted volume made of one volume dug: 1 less the shrink factor. More than 0.
    bought : float
        Compacted volume brought in, for ``"balanced"``. [m³]
    cut_weight, fill_weight : float
        Not negative; not both 0 for ``"weights"``.
    over_weight, short_weight, wall_weight : float
        Not negative; for ``"goal"``. [1/m³, 1/m³, 1/m]
    most_short : float
        Most soil that may be short, for ``"goal"``. [m³ compacted]
    at_hand : float
        Compacted soil that is there in any case, for ``"goal"``. [m³]
    most_over : float
        Most soil that may be left over, for ``"goal"``. [m³ in the bank]
    finish : float
        Finish level, for ``"fixed"``. [m]
    exposed_edge : float
        Greatest finish level above the lowest ground along the edge. [m]
    cut_depth, fill_depth : float
        Greatest depth of the formation below the stripped ground, and above it. [m]
    lowest_finish, highest_finish : float
        Bounds of the finish level. [m]

    Raises
    ------
    ValueError
        If a number is outside what is said here.
    """

    kind: Kind = "balanced"
    keep: float = 1.0
    bought: float = 0.0
    cut_weight: float = 1.0
    fill_weight: float = 1.0
    finish: float = math.nan
    exposed_edge: float = math.inf
    cut_depth: float = math.inf
    fill_depth: float = math.inf
    lowest_finish: float = -math.inf
    highest_finish: float = math.inf
    over_weight: float = 0.0
    short_weight: float = 0.0
    wall_weight: float = 0.0
    most_short: float = math.inf
    at_hand: float = 0.0
    most_over: float = math.inf

    def __post_init__(self) -> None:
        wrong = []
        if self.kind not in KINDS:
            wrong.append(f"kind {self.kind!r} is none of {', '.join(KINDS)}")
        if not 0 < self.keep < math.inf:
            wrong.append(f"keep {self.keep} is not more than 0")
        if not 0 <= self.bought < math.inf:
            wrong.append(f"bought {self.bought} m³ is less than 0")
        if self.kind == "goal":
            wrong += self._goal_faults()
        elif not (self.cut_weight >= 0 and self.fill_weight >= 0 and 0 < self.cut_weight + self.fill_weight < math.inf):
            wrong.append(
                f"weights {self.cut_weight} and {self.fill_weight} are not both 0 or more, and one of them more"
            )
        if self.kind == "fixed" and not math.isfinite(self.finish):
            wrong.append("a fixed level needs finish")
        bounds = (self.exposed_edge, self.cut_depth, self.fill_depth, self.lowest_finish, self.highest_finish)
        if any(math.isnan(bound) for bound in bounds):
            wrong.append("a limit is not a number; leave a limit out to have none")
        if wrong:
            raise ValueError("level rule: " + "; ".join(wrong))

    def _goal_faults(self) -> list[str]:
        weights = (self.cut_weight, self.fill_weight, self.over_weight, self.short_weight, self.wall_weight)
        wrong = []
        if not all(0 <= weight < math.inf for weight in weights) or sum(weights) == 0:
            wrong.append(f"weights {weights} are not all 0 or more, and one of them more")
        if not self.most_over >= 0:
            wrong.append(f"soil left over of {self.most_over} m³ is less than 0")
        if not (self.most_short >= 0 and 0 <= self.at_hand < math.inf):
            wrong.append(f"soil short of {self.most_short} m³ or at hand of {self.at_hand} m³ is less than 0")
        return wrong

    @property
    def code(self) -> int:
        """Number of the kind, as the kernel counts it."""
        return KINDS.index(self.kind)

    def numbers(self, thickness: float, strip: float, datum: float) -> FloatArray:
        """Return what the kernel needs, finish levels above the datum, shape (18,)."""
        finish = self.finish - datum if math.isfinite(self.finish) else 0.0
        return np.array(
            [
                *(self.keep, self.bought, self.cut_weight, self.fill_weight, finish, thickness, strip),
                *(self.exposed_edge, self.cut_depth, self.fill_depth),
                *(self.lowest_finish - datum, self.highest_finish - datum),
                *(self.over_weight, self.short_weight, self.wall_weight, self.most_short, self.at_hand),
                self.most_over,
            ]
        )


@dataclass(frozen=True)
class PadLevels:
    """Formation, volumes and ground of many poses of one pad.

    Everything but `status` and `area` is NaN where the pad is not covered by ground; formation, finish and volumes also
    where no level keeps the limits. Where a fixed or flush level breaks a limit they are given, and `status` says so.

    Parameters
    ----------
    formation, finish : array, shape (k,)
        Levels. [m]
    cut, fill : array, shape (k,)
        Stripped ground above formation, and below it: bank and compacted volume. [m³]
    area : array, shape (k,)
        Plan area covered by ground. [m²]
    ground_mean, ground_low, ground_high : array, shape (k,)
        Ground under the pad before stripping. [m]
    edge_low, edge_high : array, shape (k,)
        Ground along the outline before stripping. [m]
    least, most : array, shape (k,)
        Bounds of the formation level that the limits leave; ``least > most`` where they cross. [m]
    status : array of int, shape (k,)
        `Status` of each pose.
    """

    formation: FloatArray
    finish: FloatArray
    cut: FloatArray
    fill: FloatArray
    area: FloatArray
    ground_mean: FloatArray
    ground_low: FloatArray
    ground_high: FloatArray
    edge_low: FloatArray
    edge_high: FloatArray
    least: FloatArray
    most: FloatArray
    status: npt.NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.status)

    @property
    def allowed(self) -> npt.NDArray[np.bool_]:
        """Whether each pose is covered by ground and keeps the limits."""
        allowed: npt.NDArray[np.bool_] = self.status == Status.ALLOWED
        return allowed
