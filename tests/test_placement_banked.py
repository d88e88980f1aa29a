"""Placing a pad with banks: exact at the spot, inside the limits, and no worse than the bare pad's spot."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from grounds import rough, scattered
from spadework.earthwork import banked_earthwork
from spadework.errors import InputError, PlacementError
from spadework.factors import soil_factors
from spadework.pad import Edge, Pad
from spadework.placement import (
    GOALS,
    FinishLimit,
    Goal,
    KeepOut,
    Limits,
    PositionLimit,
    SearchResult,
    find_banked_placement,
    find_placement,
)
from spadework.placement.banked_objective import objective_of
from spadework.placement.clearance import Clearance
from spadework.placement.front import trade_off
from spadework.placement.objective import Verdict

YARD = np.array([[2.0, 2.0], [28.0, 2.0], [28.0, 38.0], [2.0, 38.0]])
TREE = KeepOut.circle("oak", (14.0, 20.0), 3.0)
LIMITS = Limits(boundary=(YARD,), setback=1.0, keep_outs=(TREE,))
PAD = Pad.rectangle(5.0, 3.5, strip=0.05, edge=Edge("bank", "", 1 / 1.5, 1 / 2.0))
LOAM = soil_factors("loam")
GROUND = scattered(70, rough(3, sd=0.06), seed=3)


def test_spot_is_what_the_exact_earthwork_says_and_keeps_the_limits() -> None:
    """Cut and fill with the banks are those at the spot, balanced, inside the boundary and clear of the tree."""
    found = find_banked_placement(GROUND, PAD, LIMITS, GOALS["digging"], LOAM).best
    volumes, banks = banked_earthwork(GROUND, PAD, found.placement)
    assert (found.cut, found.fill) == pytest.approx((volumes.cut, volumes.fill), rel=1e-9)
    assert (1 - LOAM.shrink) * volumes.cut == pytest.approx(volumes.fill, rel=1e-6)
    disturbed = shapely.Polygon(banks.outline)
    assert shapely.Polygon(YARD).contains(disturbed)
    assert disturbed.distance(shapely.Point(14.0, 20.0)) >= 3.0 - 1e-3


def test_spot_is_no_worse_than_where_the_bare_pad_would_stand() -> None:
    """The search looks at the banks everywhere, so it costs at most what the bare pad's spot costs with banks."""
    goal = GOALS["digging"]
    found = find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)
    bare = find_placement(GROUND, replace(PAD, edge=Edge()), LIMITS, goal, LOAM)
    assert found.best.value >= bare.best.value - 1e-9
    held = replace(LIMITS, bearing=replace(LIMITS.bearing, fixed=bare.best.placement.bearing))
    at = bare.best.placement
    held = replace(held, position=PositionLimit(at.east, at.north))
    there = find_banked_placement(GROUND, PAD, held, goal, LOAM)
    assert found.best.value <= there.best.value + 1e-9


def test_spot_is_the_best_of_many_drawn_at_random() -> None:
    """None of twenty thousand random placements, each at its best level, has a lower value; a map and alternatives."""
    for goal in (GOALS["balance"], Goal("cost", cut=2.0, fill=3.0, over=1.0, short=4.0, strip=5.0)):
        found = find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)
        assert found.objective is not None
        drawn = np.random.default_rng(5).uniform([2, 2, 0], [28, 38, 180], (20_000, 3))
        values = found.objective.values(drawn)
        assert np.isfinite(values).sum() > 5_000
        assert found.best.value <= values.min() + 1e-9
        assert len(found.alternatives) == 3
        assert found.spot_map is not None
        assert np.nanmin(found.spot_map.value) >= found.best.value - 1e-9


def test_level_is_kept_when_it_is_fixed() -> None:
    """A fixed finish stays, whatever it costs, where soil may be bought."""
    level = float(np.median(GROUND.level))
    limits = replace(LIMITS, finish=FinishLimit("fixed", level))
    found = find_banked_placement(GROUND, PAD, limits, GOALS["balance"], LOAM).best
    assert found.placement.finish == pytest.approx(level)


def test_an_edge_that_a_bank_has_not_is_refused_and_never_left_out() -> None:
    """The least height of an edge, and a limit on it, mean nothing where no edge shows: both are told at once."""
    with pytest.raises(InputError) as caught:
        find_banked_placement(GROUND, PAD, replace(LIMITS, exposed_edge=0.3), GOALS["wall"], LOAM)
    assert [fault.what.partition(",")[0] for fault in caught.value.faults] == [
        "the goal 'wall' counts the height of the edge",
        "the limits have an exposed edge",
    ]


def test_turf_counts_when_the_goal_counts_it() -> None:
    """The value is the sum of its parts, with the turf under the banks; the finish is the best one for that."""
    goal = Goal("cost", cut=2.0, fill=3.0, strip=5.0)
    found = find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)
    volumes, _ = banked_earthwork(GROUND, PAD, found.best.placement)
    assert volumes.strip_volume > PAD.strip * PAD.area
    assert found.best.value == pytest.approx(2.0 * volumes.cut + 3.0 * volumes.fill + 5.0 * volumes.strip_volume)
    for rise in (-0.02, -0.002, 0.002, 0.02):
        at = replace(found.best.placement, finish=found.best.placement.finish + rise)
        other, _ = banked_earthwork(GROUND, PAD, at)
        assert 2.0 * other.cut + 3.0 * other.fill + 5.0 * other.strip_volume > found.best.value


def test_flush_finish_is_refused_below_a_bound_at_nought() -> None:
    """A lowest finish of 0.000 m is a bound like any other: ground that lies all below it has no flush finish above."""
    low = replace(GROUND, level=GROUND.level - float(np.max(GROUND.level)) - 0.05)
    for lowest, verdict in ((0.0, Verdict.NO_LEVEL), (None, Verdict.ALLOWED)):
        limits = replace(LIMITS, finish=FinishLimit("flush", lowest=lowest), setback=0.0)
        clearance = Clearance.of(PAD, limits, low.outline(), low.origin)
        objective = objective_of(low, PAD, limits, GOALS["balance"], 0.9, clearance)
        found = objective.evaluate(np.array([[8.0, 30.0, 20.0]]))
        assert found.verdict[0] == verdict
        assert found.formation[0] < 0.0 or verdict == Verdict.NO_LEVEL


def test_limits_on_depth_and_soil_bound_the_level() -> None:
    """Cut depth, fill depth, soil bought and soil carted hold with the banks' soil."""
    goal = Goal("cost", cut=3.0, fill=1.0, over=0.1, short=0.2)
    free = find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)
    assert free.best.short > 0.3
    held = find_banked_placement(GROUND, PAD, replace(LIMITS, bought=0.1), goal, LOAM)
    assert held.best.short <= 0.1 + 1e-9
    shallow = find_banked_placement(GROUND, PAD, replace(LIMITS, fill_depth=0.08, cut_depth=0.3), goal, LOAM).best
    volumes, _ = banked_earthwork(GROUND, PAD, shallow.placement)
    assert volumes.deepest_fill <= 0.08 + 1e-9
    assert volumes.deepest_cut <= 0.3 + 1e-9


def test_front_of_two_goals_counts_the_banks() -> None:
    """The ends are the best spots of each goal; between them what the one gives up the other gains."""
    one, other = GOALS["digging"], Goal("fill", fill=1.0, over=0.2, cut=0.01, buys=False)

    def find(goal: Goal) -> SearchResult:
        return find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)

    points = trade_off(find, one, other).points
    assert len(points) >= 2
    assert all(a.first > b.first and a.second < b.second for a, b in pairwise(points))
    for point in points:
        volumes, _ = banked_earthwork(GROUND, PAD, point.spot.placement)
        assert volumes.cut == pytest.approx(point.first, rel=1e-6)


def test_no_spot_is_said_when_the_banks_fit_nowhere() -> None:
    """A yard that holds the pad but not its banks is refused, with the reason and where there is most room."""
    tight = np.array([[12.0, 12.0], [17.02, 12.0], [17.02, 15.52], [12.0, 15.52]])
    with pytest.raises(PlacementError, match="banks that leave the land"):
        find_banked_placement(GROUND, PAD, Limits(boundary=(tight,)), GOALS["balance"], LOAM)
