"""What a pose costs at its best finish level, and which limit forbids it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from spadework.earthwork import LevelRule, Status, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.earthwork.slopes import pad_slopes
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.placement.carrying import Carrying
from spadework.placement.clearance import Clearance
from spadework.placement.goals import Goal
from spadework.placement.limits import BoolArray, Limits
from spadework.placement.spots import Spot
from spadework.readings import FloatArray

__all__ = ["NO_LEVEL_LACK", "Objective", "Outcome", "Verdict"]

BOUGHT_TOLERANCE = 1e-9
"""Soil short by less is rounding. [m³ per m² of pad]"""
SLOPE_TOLERANCE = 1e-9
"""Slopes that differ by less are the same."""
UNCOMPILED = 0.1
STEEP_LACK = 1e6
"""What a slope too great counts, so that a lack of height or of soil always counts as less."""
NO_LEVEL_LACK = 1000.0
"""Added to a lack of height, so that a lack of soil always counts as less."""


class Verdict(IntEnum):
    """Whether a pose is allowed, or the first thing that forbids it."""

    ALLOWED = 0
    NOT_CLEAR = 1
    NOT_MEASURED = 2
    NO_LEVEL = 3
    SHORT_OF_SOIL = 4
    TOO_MUCH_OVER = 5
    TOO_STEEP = 6
    NO_ROOM_FOR_BANKS = 7
    BANKS_TOO_STEEP = 8


@dataclass(frozen=True)
class Outcome:
    """What many poses cost, a row for each; NaN where a pose was not worked out.

    Parameters
    ----------
    poses : array, shape (k, 3)
        ``east, north`` [m], ``bearing`` [deg].
    verdict : array of int, shape (k,)
        A `Verdict`.
    value : array, shape (k,)
        The goal's weighted sum; infinite where the pose is not allowed.
    formation, cut, fill, over, short : array, shape (k,)
        As in `Spot`.
    ground_low, ground_high, edge_low, edge_high : array, shape (k,)
        As in `Spot`.
    least, most : array, shape (k,)
        Range that the limits leave for the formation; empty where ``least > most``. [m]
    slope : array, shape (k,)
        Mean slope of the ground under the pad, worked out where it is limited.
    strip : array, shape (k,)
        Turf and topsoil taken off. [m³]
    """

    poses: FloatArray
    verdict: npt.NDArray[np.int64]
    value: FloatArray
    formation: FloatArray
    cut: FloatArray
    fill: FloatArray
    over: FloatArray
    short: FloatArray
    ground_low: FloatArray
    ground_high: FloatArray
    edge_low: FloatArray
    edge_high: FloatArray
    least: FloatArray
    most: FloatArray
    slope: FloatArray
    strip: FloatArray


NUMBERS = (
    "formation",
    "cut",
    "fill",
    "over",
    "short",
    "ground_low",
    "ground_high",
    "edge_low",
    "edge_high",
    "least",
    "most",
    "slope",
    "strip",
)


@dataclass(frozen=True)
class Objective:
    """The exact objective of a search: clearance first, because it is cheap, then volumes at the best level.

    Parameters
    ----------
    ground : Ground
        The surface.
    pad : Pad
        The pad.
    limits : Limits
        What must be kept.
    goal : Goal
        What should be least.
    keep : float
        Compacted volume that one volume in the bank makes.
    clearance : Clearance
        The limits on position, laid out.
    reserve : float
        Soil that the pad gets besides its own cut wherever it is put, in the bank. [m³]
    carrying : Carrying, optional
        For a goal that counts barrowing: its values are then those that the barrowing is at least; `exactly` has the
        true ones.
    """

    ground: Ground
    pad: Pad
    limits: Limits
    goal: Goal
    keep: float
    clearance: Clearance
    reserve: float = 0.0
    carrying: Carrying | None = None

    @property
    def turn(self) -> float:
        """Range of bearings worth trying: a turn that repeats the outline, unless one corner must stand still. [deg]"""
        position = self.limits.position
        one_way = (position is not None and position.corner) or self.limits.facings
        return 360.0 if one_way else self.clearance.shape.turn

    @property
    def tried_share(self) -> float:
        """Share of the poses of a search that there is time for: each takes ten times as long without a compiler."""
        return 1.0 if COMPILED else UNCOMPILED

    @property
    def fewest_tried(self) -> int:
        """Poses worked out at least, however many triangles lie under each."""
        return 4_000

    @property
    def strip_volume(self) -> float:
        """Turf and topsoil taken off under the pad, at every pose. [m³]"""
        return self.pad.area * self.pad.strip

    def values(self, poses: FloatArray) -> FloatArray:
        """Return the value of each pose, shape (k, 3) to (k,); infinite where it is not allowed."""
        return self.evaluate(poses).value

    def evaluate(self, poses: FloatArray) -> Outcome:
        """Work out every pose.

        Parameters
        ----------
        poses : array, shape (k, 3)
            ``east, north`` [m], ``bearing`` [deg].

        Returns
        -------
        Outcome
        """
        outcome = _blank(poses)
        clear = np.flatnonzero(self.clearance.allowed(poses)) if len(poses) else np.zeros(0, dtype=np.int64)
        if len(clear) == 0:
            return outcome
        self._fill_in(outcome, clear, self.rule())
        return outcome

    def _fill_in(self, outcome: Outcome, rows: npt.NDArray[np.int64], rule: LevelRule) -> None:
        """Write the poses of ``rows``, with levels by one rule."""
        batch = pad_levels_batch(self.ground, self.pad, outcome.poses[rows], rule)
        over, short = self.goal.over_and_short(batch.cut, batch.fill, self.keep, self.reserve)
        outcome.formation[rows] = batch.formation
        outcome.cut[rows], outcome.fill[rows] = batch.cut, batch.fill
        outcome.over[rows], outcome.short[rows] = over, short
        outcome.ground_low[rows], outcome.ground_high[rows] = batch.ground_low, batch.ground_high
        outcome.edge_low[rows], outcome.edge_high[rows] = batch.edge_low, batch.edge_high
        outcome.least[rows], outcome.most[rows] = batch.least, batch.most
        verdict = np.where(batch.allowed, Verdict.ALLOWED, Verdict.NO_LEVEL)
        verdict[batch.status == Status.NOT_COVERED] = Verdict.NOT_MEASURED
        rounding = BOUGHT_TOLERANCE * self.pad.area
        verdict[(verdict == Verdict.ALLOWED) & (short > self.most_bought + rounding)] = Verdict.SHORT_OF_SOIL
        if self.limits.carted is not None:
            verdict[(verdict == Verdict.ALLOWED) & (over > self.limits.carted + rounding)] = Verdict.TOO_MUCH_OVER
        if self.limits.ground_slope is not None:
            slope = pad_slopes(self.ground, self.pad, outcome.poses[rows])
            outcome.slope[rows] = slope
            steep = (verdict != Verdict.NOT_MEASURED) & (slope > self.limits.ground_slope + SLOPE_TOLERANCE)
            verdict[steep] = Verdict.TOO_STEEP
        outcome.verdict[rows], outcome.strip[rows] = verdict, self.strip_volume
        finish = batch.finish
        wall = np.maximum(batch.edge_high - finish, finish - batch.edge_low)
        moved = self._at_least_moved(outcome.poses[rows], batch.formation, verdict == Verdict.ALLOWED)
        value = self.goal.values(
            batch.cut, batch.fill, self.keep, self.reserve, wall=wall, strip=self.strip_volume, moved=moved
        )
        outcome.value[rows] = np.where(verdict == Verdict.ALLOWED, value, np.inf)

    def _at_least_moved(self, poses: FloatArray, formation: FloatArray, wanted: BoolArray) -> FloatArray:
        """Return what the barrowing of each pose is at least; nothing where it is not asked for. [m]"""
        moved = np.zeros(len(poses))
        if self.goal.moved and wanted.any():
            assert self.carrying is not None  # noqa: S101 -- the search refuses such a goal without
            moved[wanted] = self.carrying.at_least(self, poses[wanted], formation[wanted])
        return moved

    def true_values(self, poses: FloatArray) -> FloatArray:
        """Return the true value of each pose, where `values` may have a bound, shape (k, 3) to (k,)."""
        if not self.goal.moved:
            return self.values(poses)
        outcome = self.evaluate(poses)
        return np.array([self.exactly(self.spot(outcome, row)).value for row in range(len(poses))])

    def exactly(self, spot: Spot) -> Spot:
        """Return a spot with its true value, where the goal counts barrowing and `evaluate` had only a bound of it."""
        if not self.goal.moved or not math.isfinite(spot.value):
            return spot
        assert self.carrying is not None  # noqa: S101 -- as above
        at = spot.placement
        moved = self.carrying.exactly(self, np.array([at.east, at.north, at.bearing]), spot.formation)
        soil = (np.array(spot.cut), np.array(spot.fill), self.keep, self.reserve)
        value = self.goal.values(*soil, wall=spot.wall, strip=self.strip_volume, moved=moved)
        return replace(spot, value=float(value), moved=moved)

    def rule(self) -> LevelRule:
        """Return the rule for the level of a pose."""
        finish, goal = self.limits.finish, self.goal.without_moved
        if finish.kind == "fixed" and finish.level is not None:
            return self._rule(LevelRule(kind="fixed", finish=finish.level))
        if finish.kind in {"flush", "flush-low"}:
            return self._rule(LevelRule(kind=finish.kind))
        return self._rule(
            LevelRule(
                kind="goal",
                keep=self.keep,
                cut_weight=goal.cut,
                fill_weight=goal.fill,
                over_weight=goal.over,
                short_weight=goal.short,
                wall_weight=goal.wall,
                most_short=self.most_bought,
                most_over=math.inf if self.limits.carted is None else self.limits.carted,
                at_hand=self.keep * self.reserve,
            )
        )

    @property
    def balanced(self) -> LevelRule:
        """The rule for the level that needs no more soil than may be bought, reserve counted."""
        bought = 0.0 if math.isinf(self.most_bought) else self.most_bought
        return LevelRule(kind="balanced", keep=self.keep, bought=bought + self.keep * self.reserve)

    @property
    def most_bought(self) -> float:
        """The most soil that may be short. [m³ compacted]"""
        return self.limits.most_bought(buys=self.goal.buys)

    def _rule(self, rule: LevelRule) -> LevelRule:
        """Return a rule with the limits on heights added."""
        exposed_edge, cut_depth, fill_depth = (
            math.inf if limit is None else limit
            for limit in (self.limits.exposed_edge, self.limits.cut_depth, self.limits.fill_depth)
        )
        low, high = self.limits.finish.lowest, self.limits.finish.highest
        return replace(
            rule,
            exposed_edge=exposed_edge,
            cut_depth=cut_depth,
            fill_depth=fill_depth,
            lowest_finish=-math.inf if low is None else low,
            highest_finish=math.inf if high is None else high,
        )

    def lacks(self, outcome: Outcome) -> FloatArray:
        """Return how far each row is from being allowed: a measure to search by, below zero where it is allowed.

        Soil short beyond what may be bought [m³]; where no level keeps the limits, a thousand more than the height that
        they lack [m]; infinite where the pad is not clear or not on measured ground.

        Parameters
        ----------
        outcome : Outcome

        Returns
        -------
        array, shape (k,)
        """
        beyond = np.fmax(outcome.least - outcome.formation, outcome.formation - outcome.most)
        lack = np.full(len(outcome.poses), np.inf)
        for verdict, amount in (
            (Verdict.ALLOWED, -np.ones(len(lack))),
            (Verdict.NO_LEVEL, NO_LEVEL_LACK + np.fmax(outcome.least - outcome.most, beyond)),
            (Verdict.SHORT_OF_SOIL, outcome.short - self.most_bought),
            (Verdict.TOO_MUCH_OVER, outcome.over - (self.limits.carted or 0.0)),
            (Verdict.TOO_STEEP, STEEP_LACK * (1.0 + outcome.slope)),
            (Verdict.NO_ROOM_FOR_BANKS, NO_LEVEL_LACK + np.fmax(outcome.least - outcome.most, beyond)),
            (Verdict.BANKS_TOO_STEEP, np.full(len(lack), STEEP_LACK)),
        ):
            lack = np.where(outcome.verdict == verdict, amount, lack)
        return lack

    def at_balance(self, poses: FloatArray) -> Outcome:
        """Work out poses at the level that needs no more soil than may be bought, whatever the limits on the level."""
        outcome = _blank(poses)
        self._fill_in(outcome, np.arange(len(poses)), self.balanced)
        return outcome

    def spot(self, outcome: Outcome, row: int) -> Spot:
        """Return one row as a spot, its bearing within one turn of the pad unless it is fixed."""
        east, north, bearing = (float(number) for number in outcome.poses[row])
        if self.limits.bearing.free:
            bearing = bearing % self.turn
        formation = float(outcome.formation[row])
        placement = Placement(east, north, bearing, formation + self.pad.build_up.thickness)
        return Spot(
            placement=placement,
            formation=formation,
            value=float(outcome.value[row]),
            cut=float(outcome.cut[row]),
            fill=float(outcome.fill[row]),
            over=float(outcome.over[row]),
            short=float(outcome.short[row]),
            ground_low=float(outcome.ground_low[row]),
            ground_high=float(outcome.ground_high[row]),
            edge_low=float(outcome.edge_low[row]),
            edge_high=float(outcome.edge_high[row]),
        )


def _blank(poses: FloatArray) -> Outcome:
    """Return an outcome that says of every pose that it is not clear."""
    count = len(poses)
    columns = {name: np.full(count, np.nan) for name in NUMBERS}
    return Outcome(
        poses=poses,
        verdict=np.full(count, Verdict.NOT_CLEAR, dtype=np.int64),
        value=np.full(count, np.inf),
        **columns,
    )
