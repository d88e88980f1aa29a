"""What a pose of a pad with banks costs at its best finish level, and which limit forbids it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from spadework.earthwork._compile import COMPILED
from spadework.earthwork.bank_land import land_stretches
from spadework.earthwork.bank_levels import banked_levels_batch
from spadework.earthwork.rule import LevelRule, Status
from spadework.earthwork.slopes import pad_slopes
from spadework.ground import Ground
from spadework.pad import Pad
from spadework.placement.clearance import Clearance
from spadework.placement.goals import Goal
from spadework.placement.land import keep_out_shape
from spadework.placement.limits import Limits
from spadework.placement.objective import BOUGHT_TOLERANCE, SLOPE_TOLERANCE, Objective, Outcome, Verdict
from spadework.readings import FloatArray

__all__ = ["BankedObjective", "land_of", "objective_of"]

QUARTER = 32
"""Chords to a quarter of the circle about a corner of what is kept clear of."""
POINT = 1e-3
"""Clearance of a point that is given none. [m]"""
COMPILED_SHARE, ROUND_SHARE, UNCOMPILED_SHARE = 0.3, 0.1, 0.005
"""Share of the poses of a search for a bare pad that there is time for; with round corners; without a compiler."""
FEWEST = 400


@dataclass(frozen=True)
class BankedObjective(Objective):
    """The exact objective of a search for a pad with banks.

    Cut, fill and turf include the banks, and the level is the best one with them. The limits on position hold for the
    pad; the land that its banks must not leave, and what they must keep clear of, bound the level, for lower levels
    have larger cut banks and higher ones larger fill banks.

    Parameters
    ----------
    land : array, shape (r, 6), optional
        Stretches that the banks must not touch, as `spadework.earthwork.bank_land.land_stretches` gives them. [m]
    """

    land: FloatArray | None = None

    @property
    def tried_share(self) -> float:
        """Share of the poses of a search for a bare pad that are worked out."""
        if not COMPILED:
            return UNCOMPILED_SHARE
        return ROUND_SHARE if self.pad.edge.corners == "round" else COMPILED_SHARE

    @property
    def fewest_tried(self) -> int:
        """Poses worked out at least, however many triangles lie under each."""
        return 4_000 if COMPILED else FEWEST

    @property
    def balanced(self) -> LevelRule:
        """The rule for the level that needs no more soil than may be bought: the highest, for it digs least."""
        bought = 0.0 if math.isinf(self.most_bought) else self.most_bought
        at_hand = self.keep * self.reserve
        return LevelRule(
            kind="goal", keep=self.keep, cut_weight=1.0, fill_weight=0.0, most_short=bought, at_hand=at_hand
        )

    def _fill_in(self, outcome: Outcome, rows: npt.NDArray[np.int64], rule: LevelRule) -> None:
        """Write the poses of ``rows``, with levels by one rule."""
        pad, goal, poses = self.pad, self.goal, outcome.poses[rows]
        turf = goal.strip * pad.strip
        found = banked_levels_batch(self.ground, pad, poses, rule, turf=turf, land=self.land)
        batch = found.levels
        over, short = goal.over_and_short(batch.cut, batch.fill, self.keep, self.reserve)
        strip = pad.strip * (pad.area + found.cut_area + found.fill_area)
        outcome.formation[rows] = batch.formation
        outcome.cut[rows], outcome.fill[rows], outcome.strip[rows] = batch.cut, batch.fill, strip
        outcome.over[rows], outcome.short[rows] = over, short
        outcome.ground_low[rows], outcome.ground_high[rows] = batch.ground_low, batch.ground_high
        outcome.edge_low[rows], outcome.edge_high[rows] = batch.edge_low, batch.edge_high
        outcome.least[rows], outcome.most[rows] = batch.least, batch.most
        verdict = np.full(len(rows), Verdict.NO_LEVEL, dtype=np.int64)
        for status, said in (
            (Status.ALLOWED, Verdict.ALLOWED),
            (Status.NOT_COVERED, Verdict.NOT_MEASURED),
            (Status.NO_ROOM, Verdict.NO_ROOM_FOR_BANKS),
            (Status.TOO_STEEP, Verdict.BANKS_TOO_STEEP),
        ):
            verdict[batch.status == status] = said
        rounding = BOUGHT_TOLERANCE * pad.area
        verdict[(verdict == Verdict.ALLOWED) & (short > self.most_bought + rounding)] = Verdict.SHORT_OF_SOIL
        if self.limits.carted is not None:
            verdict[(verdict == Verdict.ALLOWED) & (over > self.limits.carted + rounding)] = Verdict.TOO_MUCH_OVER
        if self.limits.ground_slope is not None:
            slope = pad_slopes(self.ground, pad, poses)
            outcome.slope[rows] = slope
            steep = (verdict != Verdict.NOT_MEASURED) & (slope > self.limits.ground_slope + SLOPE_TOLERANCE)
            verdict[steep] = Verdict.TOO_STEEP
        outcome.verdict[rows] = verdict
        value = goal.values(batch.cut, batch.fill, self.keep, self.reserve, strip=strip)
        outcome.value[rows] = np.where(verdict == Verdict.ALLOWED, value, np.inf)

    def bare(self) -> Objective:
        """Return what the pad alone would be asked with vertical sides, its finish free and its depths not limited."""
        edge = replace(self.pad.edge, kind="retained")
        finish = replace(self.limits.finish, kind="free", level=None, lowest=None, highest=None)
        limits = replace(self.limits, finish=finish, cut_depth=None, fill_depth=None, exposed_edge=None)
        return Objective(
            self.ground, replace(self.pad, edge=edge), limits, self.goal, self.keep, self.clearance, self.reserve
        )


def objective_of(  # noqa: PLR0917 -- the fields of an objective, in their order
    ground: Ground, pad: Pad, limits: Limits, goal: Goal, keep: float, clearance: Clearance
) -> Objective:
    """Return the objective of a search, for vertical sides or for banks.

    Parameters
    ----------
    ground, pad, limits, goal, keep, clearance
        As in `Objective`.
    """
    if pad.edge.retained:
        return Objective(ground, pad, limits, goal, keep, clearance)
    return BankedObjective(ground, pad, limits, goal, keep, clearance, land=land_of(ground, limits))


def land_of(ground: Ground, limits: Limits) -> FloatArray:
    """Return what banks must not touch: boundary, keep-outs with their clearances, the rim of the ground.

    Parameters
    ----------
    ground : Ground
        The surface.
    limits : Limits
        The setback of the boundary is the pad's own, not that of its banks.

    Returns
    -------
    array, shape (r, 6)
        As `land_stretches` gives them. [m]
    """
    rings = list(limits.boundary)
    wider = 1.0 / math.cos(math.pi / (4 * QUARTER))
    for keep_out in limits.keep_outs:
        clearance = keep_out.clearance or (POINT if keep_out.is_circle or keep_out.open else 0.0)
        # The chords of the circles about its corners touch them from outside.
        taken = keep_out_shape(keep_out).buffer(clearance * wider, quad_segs=QUARTER)
        for part in shapely.get_parts(taken):
            rings += [np.asarray(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)]
    return land_stretches(ground, rings)
