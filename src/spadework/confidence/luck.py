"""How far luck may have chosen the spot: what it is to be expected to cost, and how much a better one might save.

The best of many spots on a surface flatters itself: it is best partly because the surface is wrong there. Grounds that
the shots, or the raster, allow are drawn, the best spot of each is searched with the exact objective, and the spot that
was chosen is held against it on each of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from spadework.confidence.expected_spot import expected_spot
from spadework.confidence.luck_grounds import (
    KnownGround,
    LuckGrounds,
    cover_of,
    luck_grounds,
    mean_of,
    region_of,
    spot_grounds,
)
from spadework.confidence.luck_raster import raster_grounds
from spadework.ground.process_fit import one_thread
from spadework.ground.raster_doubt import RasterDoubt
from spadework.placement.objective import Objective
from spadework.placement.spots import Spot
from spadework.placement.warm import await_kernels
from spadework.readings import FloatArray

__all__ = ["GROUNDS", "NEAR", "Luck", "SpotLuck", "weigh_luck"]

GROUNDS = 200
OWN = 1000
"""Grounds drawn at the points of one spot, of which its bounds are told."""
NEAR = 2.0
"""Spots within this distance are near one another. [m]"""
SIFTED, KEPT = 24, 240
"""Grounds on which placements all over the site are tried, and number of those then tried on all grounds."""
PICKS, PICK_GROUNDS = 3, 60
MATTERS, MATTERS_FLAT = 0.02, 2e-4
"""A spot is another one where it is expected to save this share, or so many m³ per m² of pad."""
HELD = 0.02
"""Share of grounds on which a limit may hold the level for the closed form still to be right."""


@dataclass(frozen=True, slots=True)
class SpotLuck:
    """What is to be expected of one spot.

    Parameters
    ----------
    spot : Spot
        The spot as it is on the drawn surface.
    expected : float
        Expected value of the goal, its finish level following the ground where it is free.
    closed_form : bool
        Whether `expected` is a closed form, or the mean of the grounds drawn.
    sd, low, high : float
        Standard deviation of the value; the true value lies between the bounds in 95 cases of 100.
    likely_best : float
        Share of the grounds on which it is the best of the spots that are named.
    near : float
        Share of the grounds whose best spot lies within `NEAR` of it.
    regret, regret_high : float
        How much more it costs than the best spot there is: on average, and on 95 of 100 of the grounds drawn at most.
        Of true grounds nine of ten lay below that (``docs/accuracy.md``).
    kept : float
        Share of the grounds on which a finish level keeps every limit there.
    """

    spot: Spot
    expected: float
    closed_form: bool
    sd: float
    low: float
    high: float
    likely_best: float
    near: float
    regret: float
    regret_high: float
    kept: float


@dataclass(frozen=True)
class Luck:
    """What luck may have to do with the choice of a spot.

    Parameters
    ----------
    drawn : SpotLuck
        The best spot of the drawn surface.
    pick : SpotLuck
        The spot of least expected cost; the same as ``drawn`` where another would hardly save anything.
    others : tuple of SpotLuck
        The alternatives of the search.
    best_there_is : float
        Mean value of the best spot of each ground: what perfect knowledge of the ground would cost.
    grounds : int
        Grounds drawn.
    near : float
        What counts as near. [m]
    allowed_by : str
        What allows the grounds, such as ``"the shots"``.
    unseen : float
        Of a raster, the part of its noise that does not show between neighbouring cells: it may be alike over several,
        which is not in the grounds. [m]
    """

    drawn: SpotLuck
    pick: SpotLuck
    others: tuple[SpotLuck, ...]
    best_there_is: float
    grounds: int
    near: float = field(default=NEAR)
    allowed_by: str = "the shots"
    unseen: float = 0.0

    @property
    def allowed(self) -> str:
        """What allows the grounds, and the verb: the end of "grounds that ..."."""
        return f"{self.allowed_by} {'allows' if self.allowed_by == 'the raster' else 'allow'}"

    @property
    def differs(self) -> bool:
        """Whether the spot of least expected cost is another than the best of the drawn surface."""
        return self.pick is not self.drawn


def weigh_luck(
    process: KnownGround | RasterDoubt,
    objective: Objective,
    outline: tuple[FloatArray, ...],
    best: Spot,
    alternatives: Sequence[Spot] = (),
    *,
    grounds: int = GROUNDS,
    seed: int = 0,
) -> Luck | None:
    """Return what is to be expected of the spots that a search found, and of the spot of least expected cost.

    Parameters
    ----------
    process : GroundProcess, RasterGrounds or RasterDoubt
        The ground with how sure it is.
    objective : Objective
        The exact objective on the drawn surface.
    outline : tuple of arrays, shape (n, 2)
        Rings of the measured ground. [m]
    best : Spot
        Best spot of the drawn surface.
    alternatives : sequence of Spot
        The others.
    grounds : int
        Grounds drawn.
    seed : int
        The same seed draws the same grounds.

    Returns
    -------
    Luck or None
        ``None`` where the site is too large for a grid fine enough for the pad.
    """
    await_kernels("grounds")
    if isinstance(process, RasterDoubt):
        with one_thread(0):  # a thousand cells or two: threads cost more than they bring
            known = raster_grounds(process, *region_of(objective))
            if known is None:
                return None
            found = weigh_luck(known, objective, outline, best, alternatives, grounds=grounds, seed=seed)
        return None if found is None else replace(found, allowed_by=_allowed_by(process), unseen=known.unseen)
    drawn = luck_grounds(process, objective, grounds, seed)
    if drawn is None:
        return None
    named = np.array([_pose(spot) for spot in (best, *alternatives)])
    cover = _sifted(drawn, named, cover_of(objective, outline))
    values = drawn.values(cover)
    starts = cover[np.argmin(values, axis=0)]
    places, least = drawn.best_of_each(starts)
    picks, _ = drawn.best_of_some(_seeds(drawn, cover, values), PICK_GROUNDS)
    outcome = objective.evaluate(picks)
    picks = picks[np.isfinite(outcome.value)]
    outcome = objective.evaluate(picks)
    spots = [best, *alternatives, *(objective.spot(outcome, row) for row in range(len(picks)))]
    poses = np.vstack([named, picks])
    table, held = drawn.values_held(poses)
    least = np.minimum(least, table.min(axis=0))
    own = _Own(process, objective, seed + 1)
    expected = [_expected(own, *each) for each in zip(spots, table, held, strict=True)]
    chosen = _chosen(objective, [value for value, _ in expected])
    rows = list(dict.fromkeys([0, chosen, *range(1, len(named))]))
    lowest = table[rows].min(axis=0)
    told = [_told(spots[row], expected[row], own.values(spots[row]), table[row], lowest, least, places) for row in rows]
    others = tuple(one for one, row in zip(told, rows, strict=True) if row not in {0, chosen})
    known = least[np.isfinite(least)]
    mean = float(known.mean()) if len(known) else math.inf
    return Luck(told[0], told[rows.index(chosen)], others, mean, grounds)


def _allowed_by(raster: RasterDoubt) -> str:
    """Return what allows the grounds that are drawn, in words."""
    return "the raster" if raster.rest is None and raster.plane is None else "the raster and its shots"


def _pose(spot: Spot) -> FloatArray:
    at = spot.placement
    return np.array([at.east, at.north, at.bearing])


def _sifted(drawn: LuckGrounds, named: FloatArray, cover: FloatArray) -> FloatArray:
    """Return the named placements and those that may be the best of some ground, by the first grounds drawn."""
    values = drawn.values(cover, width=min(SIFTED, len(drawn)))
    finite = np.isfinite(values)
    count = np.maximum(finite.sum(axis=1), 1)
    filled = np.where(finite, values, 0.0)
    mean = filled.sum(axis=1) / count
    sd = np.sqrt(np.maximum((filled**2).sum(axis=1) / count - mean**2, 0.0))
    hope = np.where(finite.any(axis=1), mean - 2 * sd, np.inf)
    order = np.argsort(hope, kind="stable")[:KEPT]
    return np.vstack([named, cover[order[np.isfinite(hope[order])]]])


def _seeds(drawn: LuckGrounds, cover: FloatArray, values: FloatArray) -> FloatArray:
    """Return the best spot as drawn, and placements apart from one another of least mean value, shape (k, 3)."""
    mean = mean_of(values)
    seeds: list[FloatArray] = []
    for row in np.argsort(mean, kind="stable"):
        if np.isfinite(mean[row]) and all(np.hypot(*(cover[row] - seed)[:2]) > drawn.short / 2 for seed in seeds):
            seeds.append(cover[row])
        if len(seeds) == PICKS:
            break
    return np.array([cover[0], *seeds])


@dataclass(frozen=True, eq=False)
class _Own:
    """Values of single spots on grounds drawn for each, at its own points: none of them had a part in its choice."""

    process: KnownGround
    objective: Objective
    seed: int
    found: dict[Spot, FloatArray] = field(default_factory=dict)

    def values(self, spot: Spot) -> FloatArray:
        """Return the value on each of its grounds, shape (m,); infinite where no level keeps the limits."""
        if spot not in self.found:
            pose = _pose(spot)
            grounds = spot_grounds(self.process, self.objective, pose, OWN, self.seed)
            self.found[spot] = grounds.values(pose[None])[0]
        return self.found[spot]


def _expected(own: _Own, spot: Spot, values: FloatArray, held: FloatArray) -> tuple[float, bool]:
    """Return the expected value of a spot, and whether by the closed form rather than by the grounds drawn."""
    objective = own.objective
    free = objective.limits.finish.kind in {"free", "fixed"} and objective.goal.wall == 0
    if free and float((held > 0).mean()) <= HELD and np.isfinite(values).all():
        return expected_spot(own.process, objective, spot.placement).value, True
    return float(mean_of(own.values(spot)[None])[0]), False


def _chosen(objective: Objective, expected: Sequence[float]) -> int:
    """Return the row of the spot of least expected value; 0 where it hardly saves anything against the best drawn."""
    least = int(np.argmin(expected))
    saving = expected[0] - expected[least]
    return least if saving > MATTERS * abs(expected[0]) + MATTERS_FLAT * objective.pad.area else 0


def _told(  # noqa: PLR0917 -- a spot and what the grounds say of it
    spot: Spot,
    expected: tuple[float, bool],
    own: FloatArray,
    values: FloatArray,
    lowest: FloatArray,
    least: FloatArray,
    places: FloatArray,
) -> SpotLuck:
    """Return what is to be expected of a spot: bounds by its own grounds, the rest by those that all spots share.

    Of a new value below the k-th of n drawn, the share is ``k / (n + 1)`` on average, whatever the distribution: bounds
    are taken so. Source: E. J. Gumbel, *Statistics of Extremes* (1958), section 1.2 (from memory).
    """
    finite, known = np.isfinite(values), np.isfinite(own)
    found = own[known] if known.any() else np.array([np.inf])
    low, high = np.quantile(found, (0.025, 0.975), method="weibull")
    regret = (values - least)[finite] if finite.any() else np.array([np.inf])
    away = np.hypot(*(places - _pose(spot))[:, :2].T)
    return SpotLuck(
        spot=spot,
        expected=expected[0],
        closed_form=expected[1],
        sd=float(found.std()),
        low=float(low),
        high=float(high),
        likely_best=float((values <= lowest + 1e-12).mean()),
        near=float((away <= NEAR).mean()),
        regret=float(regret.mean()),
        regret_high=float(np.quantile(regret, 0.95, method="weibull")),
        kept=float(known.mean()),
    )
