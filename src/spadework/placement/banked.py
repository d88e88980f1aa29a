"""The placement of a pad with banks: from the best spots of the bare pad, refined with the banks' own soil and room."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from spadework.earthwork import Earthwork
from spadework.earthwork.bank_outline import Banks, banked_earthwork
from spadework.earthwork.banks import BankedPad, balanced_level, banked_pad
from spadework.earthwork.slopes import pad_slopes
from spadework.errors import Fault, InputError, PlacementError
from spadework.factors import SoilFactors
from spadework.ground import Ground
from spadework.pad import Edge, Pad, Placement
from spadework.placement.alternatives import Trade, with_trades
from spadework.placement.goals import Goal
from spadework.placement.land import keep_out_shape, land_shape
from spadework.placement.limits import Limits
from spadework.placement.pose_rules import PoseRules
from spadework.placement.search import find_placement
from spadework.placement.spots import SearchResult, Spot
from spadework.readings import FloatArray
from spadework.units import LengthUnit, format_slope

__all__ = ["find_banked_placement"]

FIRST_STEP, LAST_STEP = 0.4, 0.01
"""Steps of the refinement, in position; in bearing ten degrees for each metre. [m]"""
TURN = 10.0
TOLERANCE = 1e-9


def find_banked_placement(
    ground: Ground,
    pad: Pad,
    limits: Limits,
    goal: Goal,
    soil: SoilFactors,
    *,
    unit: LengthUnit = LengthUnit.METRE,
    landmarks: Sequence[tuple[str, float, float]] = (),
) -> SearchResult:
    """Find where a pad with banks costs least, the banks' soil included and the disturbed ground inside the limits.

    The bare pad, with vertical sides, is placed first; its best spot and the alternatives get their banks. From the
    best of them, position and bearing are refined by a pattern search in which every step has the banks worked out
    exactly and the level solved with them. This is a search near good starts, without a bound: it is said so.

    Parameters
    ----------
    ground, pad, limits, goal, soil, unit, landmarks
        As for `find_placement`; the edge of the pad is a bank. The boundary and the clearances of the keep-outs also
        hold the banks; the setback and the exposed edge do not apply to them.

    Returns
    -------
    SearchResult
        Cut and fill with the banks.

    Raises
    ------
    InputError
        If the goal counts the height of the edge, which a bank has none of.
    PlacementError
        If the bare pad fits nowhere, or its banks fit at none of the starts.
    """
    if goal.wall > 0:
        raise InputError(
            Fault(
                f"the goal {goal.name!r} counts the height of the edge, and the edge is a bank",
                "a bank has no edge that shows",
                "Choose another goal, or a retained edge",
            )
        )
    bare = replace(pad, edge=Edge())
    free = replace(limits, exposed_edge=None)
    keep = 1.0 - soil.shrink
    first = find_placement(ground, bare, free, goal, soil, unit=unit, landmarks=landmarks)
    study = _Study(ground, pad, free, goal, keep, _land(limits))
    spots: list[Spot] = []
    last = "no spot"
    for start in (first.best, *first.alternatives):
        at = start.placement
        try:
            spots.append(study.spot(np.array([at.east, at.north, at.bearing]), at.finish))
        except PlacementError as error:
            last = str(error)
    if not spots:
        raise PlacementError(
            f"The pad itself fits, its banks do not at any of the {1 + len(first.alternatives)} best spots. {last}"
        )
    spots.sort(key=lambda spot: spot.value)
    best, tried = study.refined(spots[0])
    return SearchResult(
        best=best,
        alternatives=with_trades(best, spots[1:], Trade(goal, unit, tuple(landmarks))),
        evaluated=first.evaluated + tried + len(spots),
        searched=f"{first.searched}; then {tried} placements with their banks, near the best of {len(spots)}. "
        "A search near good starts: no bound proves that there is nothing better",
        notices=(*first.notices, *_level_notice(goal, limits)),
    )


def _level_notice(goal: Goal, limits: Limits) -> tuple[str, ...]:
    """Say how the finish goes where the goal might ask for another."""
    if limits.finish.kind != "free" or goal.name in {"digging", "balance"}:
        return ()
    said = "With banks the finish is the one at which the soil dug makes the fill, whatever the goal counts"
    return (f"{said}: another finish may cost less.",)


def _land(limits: Limits) -> tuple[BaseGeometry | None, tuple[BaseGeometry, ...]]:
    """Return the land, and what banks keep clear of."""
    land = land_shape(limits.boundary) if limits.boundary else None
    taken = tuple(keep_out_shape(k).buffer(k.clearance, quad_segs=64) for k in limits.keep_outs)
    return land, taken


@dataclass(frozen=True)
class _Study:
    """What a pose with banks costs."""

    ground: Ground
    pad: Pad
    limits: Limits
    goal: Goal
    keep: float
    land: tuple[BaseGeometry | None, tuple[BaseGeometry, ...]]

    def refined(self, best: Spot) -> tuple[Spot, int]:
        """Return the best spot that a pattern search from a spot reaches, and how many poses it tried."""
        at = best.placement
        pose, finish = np.array([at.east, at.north, at.bearing]), at.finish
        still = self.limits.position is not None
        free = np.array([not still, not still, self.limits.bearing.turns])
        tried, step = 0, FIRST_STEP
        while step >= LAST_STEP:
            moved = False
            for axis in np.flatnonzero(free).tolist():
                for sign in (1.0, -1.0):
                    trial = pose.copy()
                    trial[axis] += sign * step * (TURN if axis == 2 else 1.0)
                    tried += 1
                    try:
                        spot = self.spot(trial, finish, better_than=best.value)
                    except PlacementError:
                        continue
                    if spot.value < best.value - TOLERANCE:
                        best, pose, moved = spot, trial, True
            step = step if moved else step / 2
        return best, tried

    def spot(self, pose: FloatArray, finish: float, *, better_than: float = math.inf) -> Spot:
        """Return the spot at a pose, at its best level; refuse one that is not allowed, or no better than another."""
        at = Placement(float(pose[0]), float(pose[1]), float(pose[2]) % 360.0, finish)
        banked = banked_pad(self.ground, self.pad, at)
        level = self._formation(banked)
        at = replace(at, finish=level + self.pad.build_up.thickness)
        cut, fill, bank_cut, bank_fill = banked.volumes(level)
        cut, fill = cut + bank_cut, fill + bank_fill
        if self._value(cut, fill, self.pad.strip * self.pad.area) >= better_than:  # the banks are stripped besides
            raise PlacementError("no better")
        volumes, banks = banked_earthwork(self.ground, self.pad, at)
        value = self._value(volumes.cut, volumes.fill, volumes.strip_volume)
        if value >= better_than:
            raise PlacementError("no better")
        self._allow(at, volumes, banks)
        over, short = self.goal.over_and_short(np.array(volumes.cut), np.array(volumes.fill), self.keep)
        return Spot(
            placement=at,
            formation=level,
            value=value,
            cut=volumes.cut,
            fill=volumes.fill,
            over=float(over),
            short=float(short),
            ground_low=volumes.ground_low,
            ground_high=volumes.ground_high,
            edge_low=volumes.edge_low,
            edge_high=volumes.edge_high,
        )

    def _formation(self, banked: BankedPad) -> float:
        """Return the formation level that the finish limit asks for, or that balances the soil."""
        finish, thickness = self.limits.finish, self.pad.build_up.thickness
        if finish.kind == "fixed" and finish.level is not None:
            return finish.level - thickness
        if not math.isfinite(float(banked.inside.edge_high[0])):
            raise PlacementError("The pad lies outside the measured ground.")
        if finish.kind == "flush":
            return float(banked.inside.edge_high[0]) + banked.inside.datum - thickness
        if finish.kind == "flush-low":
            return float(banked.inside.edge_low[0]) + banked.inside.datum - thickness
        bought = self.limits.most_bought(buys=self.goal.buys)
        level = balanced_level(banked, keep=self.keep, bought=0.0 if math.isinf(bought) else bought)
        low = -math.inf if finish.lowest is None else finish.lowest - thickness
        high = math.inf if finish.highest is None else finish.highest - thickness
        return min(max(level, low), high)

    def _value(self, cut: float, fill: float, strip: float) -> float:
        """Return the goal's weighted sum."""
        return float(self.goal.values(np.array(cut), np.array(fill), self.keep, strip=strip))

    def _allow(self, at: Placement, volumes: Earthwork, banks: Banks) -> None:
        """Refuse a spot whose pad or banks break a limit."""
        corners = shapely.Polygon(at.corners(self.pad))
        disturbed = shapely.Polygon(banks.outline)
        land, taken = self.land
        if land is not None and not (land.contains(disturbed) and self._set_back(corners, land)):
            raise PlacementError("Its banks would leave the boundary.")
        if any(disturbed.intersects(other.buffer(-TOLERANCE)) for other in taken):
            raise PlacementError("Its banks would run into a keep-out.")
        for depth, limit, what in (
            (volumes.deepest_cut, self.limits.cut_depth, "cut"),
            (volumes.deepest_fill, self.limits.fill_depth, "fill"),
        ):
            if limit is not None and depth > limit + TOLERANCE:
                raise PlacementError(f"It would {what} deeper than the limit.")
        finish = self.limits.finish
        low = -math.inf if finish.lowest is None else finish.lowest
        high = math.inf if finish.highest is None else finish.highest
        if not low - TOLERANCE <= at.finish <= high + TOLERANCE:
            raise PlacementError("Its finish level would lie outside its bounds.")
        pose = np.array([[at.east, at.north, at.bearing]])
        rules = PoseRules.of(self.pad, self.limits)
        if (rules.measured(pose) > rules.most + TOLERANCE).any() or rules.bearing.off(pose[:, 2])[0] > TOLERANCE:
            raise PlacementError("It would lie too far from what it must reach, or not face what it must face.")
        if self.limits.ground_slope is not None:
            slope = float(pad_slopes(self.ground, self.pad, pose)[0])
            if not slope <= self.limits.ground_slope + TOLERANCE:
                raise PlacementError(f"The ground under it slopes {format_slope(slope)}, more than the limit.")
        over, short = (
            float(amount)
            for amount in self.goal.over_and_short(np.array(volumes.cut), np.array(volumes.fill), self.keep)
        )
        if short > self.limits.most_bought(buys=self.goal.buys) + 1e-6:
            raise PlacementError(f"It is {short:.2f} m³ short of soil, more than may be bought.")
        if self.limits.carted is not None and over > self.limits.carted + 1e-6:
            raise PlacementError(f"It leaves {over:.2f} m³ of soil over, more than may be carted.")

    def _set_back(self, corners: shapely.Polygon, land: BaseGeometry) -> bool:
        """Say whether the pad itself keeps its setback."""
        return bool(land.contains(corners) and corners.distance(land.boundary) >= self.limits.setback - TOLERANCE)
