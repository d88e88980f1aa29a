"""Grounds whose best spot is known by hand: cone, paraboloid, ridge, valley, step, saddle; position, bearing, level.

Every one is searched and proved. Curved grounds are triangulated: they differ from the formula by the cell squared.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import pytest

from grounds import lattice
from spadework.earthwork import earthwork
from spadework.pad import Pad, Placement
from spadework.pad_shapes import circle
from spadework.placement import BearingLimit, Goal, Limits, ProofEffort, find_placement
from spadework.readings import FloatArray

MOVED = Goal("moved", cut=1.0, fill=1.0, sentence="cut and fill together")
DUG = Goal("dug", cut=1.0, buys=False, sentence="least dug, none bought")
DATUM, R, H = 50.0, 1.6, 1.25
ROUND = Pad(circle(R), radius=R)
SQUARE = Pad.rectangle(2 * H, 2 * H)
LONG = Pad.rectangle(4.0, 2.4)
SLOPE, BEND, STEP = 0.1, 0.03, 0.8


@dataclass(frozen=True)
class Known:
    """A ground and what is known of its best spot, levels above the datum.

    ``value`` counts cut and fill where both are the goal, cut alone otherwise; ``east`` and ``north`` are nothing where
    every place along them is as good, ``turn`` is the turn after which a bearing is the same.
    """

    level_of: Callable[[FloatArray, FloatArray], FloatArray]
    pad: Pad
    goal: Goal
    value: float
    level: float
    east: float | None = 0.0
    north: float | None = 0.0
    bearing: float | None = None
    turn: float = 180.0
    cell: float = 0.25
    limits: Limits = field(default_factory=Limits)
    either_side: bool = False


ONE_WAY = Limits(bearing=BearingLimit(0.0))
A, B = LONG.sides[0] / 2, LONG.sides[1] / 2
"""Half the length of the pad, to the north, and half its width."""
MEAN_R = (math.sqrt(2.0) + math.asinh(1.0)) / 3.0
"""Mean distance from the middle of a square of side 2: the integral of sec³ over an eighth of it."""
CREST, DISH = 0.15, 0.12
KNOWN = {
    # A hill: the cone above 2/3 of the radius is cut, of height 2/3 m R; its mean level is 2/3 m R below the top. A
    # round pad may lie at any bearing.
    "round pad on a cone": Known(
        lambda e, n: -SLOPE * np.hypot(e, n),
        ROUND,
        DUG,
        8 * math.pi * SLOPE * R**3 / 81,
        -2 * SLOPE * R / 3,
        limits=ONE_WAY,
    ),
    # A hill as much longer than wide as the pad: in u = e / B and v = n / A it is a round cone under a square, its mean
    # level MEAN_R below the top and the cut that of a cone of that height and radius: pi MEAN_R³ / 3 of the square's 4.
    "cone": Known(
        lambda e, n: -CREST * np.hypot(e / B, n / A),
        LONG,
        DUG,
        4 * A * B * CREST * math.pi * MEAN_R**3 / 12,
        -CREST * MEAN_R,
        bearing=0.0,
    ),
    # A bowl: mean and middle level are those at r² = R² / 2; cut = fill = π c R⁴ / 8.
    "round pad on a paraboloid": Known(
        lambda e, n: BEND * (e * e + n * n), ROUND, MOVED, math.pi * BEND * R**4 / 4, BEND * R**2 / 2, limits=ONE_WAY
    ),
    # A bowl as much longer than wide as the pad: in u and v half of the square lies where r² < 2 / pi, the level; what
    # is filled there is pi (2 / pi)² / 2, and cut is that and the mean 2/3 less the level, 4 times: 8/3 - 4/pi in all.
    "paraboloid": Known(
        lambda e, n: DISH * ((e / B) ** 2 + (n / A) ** 2),
        LONG,
        MOVED,
        4 * A * B * DISH * (2 / 3 - 1 / math.pi),
        DISH * 2 / math.pi,
        bearing=0.0,
    ),
    # Astride, along it: a quarter of the width on either side lies above the mean level: cut = fill = A s w / 16.
    "ridge": Known(
        lambda e, _: -SLOPE * np.abs(e), LONG, MOVED, 9.6 * SLOPE * 2.4 / 8, -SLOPE * 2.4 / 4, 0.0, None, 0.0, cell=1.5
    ),
    "valley": Known(
        lambda e, _: SLOPE * np.abs(e), LONG, MOVED, 9.6 * SLOPE * 2.4 / 8, SLOPE * 2.4 / 4, 0.0, None, 0.0, cell=1.5
    ),
    # A yard 6 m wide leaves 2.5 m of flat on either side of a ramp 1 m wide: a pad 3 m wide at the end of the yard has
    # half a metre on the ramp, whose mean depth there is a quarter of the step; more where it is turned. Either side
    # is as good; on the eastern the level is the upper flat's.
    "step": Known(
        lambda e, _: STEP * np.clip(e + 0.5, 0.0, 1.0),
        Pad.rectangle(4.0, 3.0),
        MOVED,
        4.0 * 0.5 * STEP / 4,
        STEP,
        1.5,
        None,
        0.0,
        cell=0.5,
        either_side=True,
    ),
    # z = c (e² - n²) under a square with its sides along the axes: 4/3 c h⁴; along the diagonals it is 2 c h⁴.
    "saddle": Known(
        lambda e, n: BEND * (e * e - n * n), SQUARE, MOVED, 4 / 3 * BEND * H**4, 0.0, bearing=0.0, turn=90.0
    ),
}


CURVED = {"round pad on a cone", "cone", "round pad on a paraboloid", "paraboloid", "saddle"}


def solved(known: Known) -> tuple[Placement, float]:
    """The best spot and its value, with a proof that nothing is more than two per cent better."""
    # Round grounds reach no farther than the pad needs to find their middle; the folded ones are a few triangles.
    half = 2.25 if known.limits is ONE_WAY or known.pad is SQUARE else 3.0
    ground = lattice(lambda e, n: DATUM + known.level_of(e, n), half, known.cell)
    result = find_placement(
        ground, known.pad, known.limits, known.goal, 1.0, effort=ProofEffort(share=0.02, amount=1e-4, work=40_000_000)
    )
    assert result.proof is not None
    assert result.proof.finished
    assert result.proof.lower_bound >= 0.979 * result.best.value - 1e-4
    return result.best.placement, result.best.value


@pytest.mark.parametrize("name", KNOWN)
def test_best_spot_is_the_one_known_by_hand(name: str) -> None:
    """Position and bearing by symmetry, level and volumes by calculus, through the whole search and its proof."""
    known = KNOWN[name]
    curved = name in CURVED
    at, value = solved(known)
    assert value == pytest.approx(known.value, rel=0.02 if curved else 1e-6)
    if known.either_side and at.east < 0:
        assert (at.east, at.finish) == pytest.approx((-known.east, DATUM), abs=1e-3)
        at = replace(at, east=-at.east, finish=DATUM + known.level)
    assert at.finish == pytest.approx(DATUM + known.level, abs=BEND * known.cell**2 if curved else 1e-4)
    near = 0.06 if curved else 1e-2
    if known.east is not None:
        assert at.east == pytest.approx(known.east, abs=near)
    if known.north is not None:
        assert at.north == pytest.approx(known.north, abs=near)
    if known.bearing is not None:
        assert (at.bearing - known.bearing + 10.0) % known.turn == pytest.approx(10.0, abs=1.0 if curved else 0.05)


@pytest.mark.parametrize("name", ["cone", "paraboloid", "saddle"])
def test_bearing_known_by_symmetry_is_the_least_of_all_by_quadrature(name: str) -> None:
    """A second implementation: sums over a fine grid of the smooth ground, not cut along triangles, turn by turn.

    It says which of the two bearings that symmetry leaves is the better, and what it costs.
    """
    known = KNOWN[name]
    u, v = np.meshgrid(*((np.arange(400) + 0.5) / 400 * side - side / 2 for side in known.pad.sides[:2]))
    costs = []
    for turn in np.radians(np.arange(0.0, 180.0, 3.0)):
        level = known.level_of(u * np.sin(turn) + v * np.cos(turn), u * np.cos(turn) - v * np.sin(turn))
        middle = level.mean() if known.goal is DUG else np.median(level)
        costs.append(float(np.abs(level - middle).mean()) * known.pad.area / (2.0 if known.goal is DUG else 1.0))
    assert known.bearing == 0.0
    assert costs[0] == pytest.approx(known.value, rel=1e-4)
    assert min(costs) == pytest.approx(costs[0], rel=1e-9)
    assert max(costs) > 1.1 * costs[0]


@pytest.mark.parametrize("side", [1.0, -1.0], ids=["high ground east", "high ground west"])
def test_step_when_the_pad_must_stand_astride_of_it(side: float) -> None:
    """A yard 6 m wide about a ramp leaves a pad of 4 m a quarter of its length on one flat, at least.

    The level is that of the other flat: cut + fill = A H / 4, whatever the ramp's width, and the pad stands at the end
    of the yard, east or west, finishing low or high: both are equal.
    """
    ground = lattice(lambda e, _: DATUM + STEP * np.clip(side * e + 0.5, 0.0, 1.0), 3.0, 0.5)
    limits = Limits(bearing=BearingLimit(90.0))
    result = find_placement(
        ground, Pad.rectangle(4.0, 3.0), limits, MOVED, 1.0, effort=ProofEffort(share=0.005, amount=1e-4)
    )
    at = result.best.placement
    assert result.best.value == pytest.approx(12.0 * STEP / 4, rel=1e-5)
    assert abs(at.east) == pytest.approx(1.0, abs=1e-3)
    high = side * at.east > 0
    assert at.finish == pytest.approx(DATUM + (STEP if high else 0.0), abs=1e-3)
    assert result.proof is not None
    assert result.proof.finished


@pytest.mark.parametrize("name", ["round pad on a cone", "round pad on a paraboloid"])
def test_volume_nears_the_formula_as_the_square_of_the_cell(name: str) -> None:
    """Halving the cell takes off three fifths of the error at least, and in all the error falls as the cell squared."""
    known = KNOWN[name]
    errors = []
    for cell in (0.5, 0.25, 0.125):
        ground = lattice(lambda e, n: DATUM + known.level_of(e, n), 3.0, cell)
        at = Placement(0.0, 0.0, 0.0, DATUM + known.level)
        found = earthwork(ground, known.pad, at)
        balanced = 0.5 * (found.cut + found.fill)
        errors.append(abs(balanced - (known.value if known.goal is DUG else known.value / 2)))
    for coarse, fine in pairwise(errors):
        assert fine < coarse / 2.5
    assert errors[2] < errors[0] / 9


def test_saddle_costs_more_along_the_diagonals() -> None:
    """With its sides along the diagonals the ground is 2 c u v: cut + fill = 2 c h⁴, half as much again."""
    ground = lattice(lambda e, n: DATUM + BEND * (e * e - n * n), 3.0, 0.125)
    found = earthwork(ground, SQUARE, Placement(0.0, 0.0, 45.0, DATUM))
    assert found.cut + found.fill == pytest.approx(2 * BEND * H**4, rel=5e-3)
