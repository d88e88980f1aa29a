"""Placing a pad with banks: exact at the spot, inside the limits, and no worse than the bare pad's spot."""

from __future__ import annotations

from dataclasses import replace

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
    find_banked_placement,
    find_placement,
)
from spadework.placement.banked import _Study

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
    """The refinement starts from the bare pad's best spot, so it costs at most what that costs with banks."""
    goal = GOALS["digging"]
    found = find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)
    bare = find_placement(GROUND, replace(PAD, edge=Edge()), LIMITS, goal, LOAM)
    assert found.best.value >= bare.best.value - 1e-9
    held = replace(LIMITS, bearing=replace(LIMITS.bearing, fixed=bare.best.placement.bearing))
    at = bare.best.placement
    held = replace(held, position=PositionLimit(at.east, at.north))
    there = find_banked_placement(GROUND, PAD, held, goal, LOAM)
    assert found.best.value <= there.best.value + 1e-9
    assert found.proof is None
    assert "no bound" in found.searched


def test_level_is_kept_when_it_is_fixed() -> None:
    """A fixed finish stays, whatever it costs, where soil may be bought."""
    level = float(np.median(GROUND.level))
    limits = replace(LIMITS, finish=FinishLimit("fixed", level))
    found = find_banked_placement(GROUND, PAD, limits, GOALS["balance"], LOAM).best
    assert found.placement.finish == pytest.approx(level)


def test_goal_is_refused_when_it_counts_an_edge_that_a_bank_has_not() -> None:
    """The least height of an edge means nothing where no edge shows; a cost without one does."""
    with pytest.raises(InputError, match="the edge is a bank"):
        find_banked_placement(GROUND, PAD, LIMITS, GOALS["wall"], LOAM)


def test_turf_counts_when_the_goal_counts_it() -> None:
    """The value is the sum of its parts, with the turf under the banks; how the finish goes is told."""
    goal = Goal("cost", cut=2.0, fill=3.0, strip=5.0)
    found = find_banked_placement(GROUND, PAD, LIMITS, goal, LOAM)
    volumes, _ = banked_earthwork(GROUND, PAD, found.best.placement)
    assert volumes.strip_volume > PAD.strip * PAD.area
    assert found.best.value == pytest.approx(2.0 * volumes.cut + 3.0 * volumes.fill + 5.0 * volumes.strip_volume)
    assert any("another finish may cost less" in notice for notice in found.notices)


def test_flush_finish_is_refused_below_a_bound_at_nought() -> None:
    """A lowest finish of 0.000 m is a bound like any other: ground that lies all below it has no flush finish above."""
    low = replace(GROUND, level=GROUND.level - float(np.max(GROUND.level)) - 0.05)
    for lowest, allowed in ((0.0, False), (None, True)):
        limits = replace(LIMITS, finish=FinishLimit("flush", lowest=lowest))
        study = _Study(low, PAD, limits, GOALS["balance"], 0.9, (None, ()))
        if allowed:
            assert study.spot(np.array([8.0, 30.0, 20.0]), 0.0).placement.finish < 0.0
        else:
            with pytest.raises(PlacementError, match="outside its bounds"):
                study.spot(np.array([8.0, 30.0, 20.0]), 0.0)


def test_no_spot_is_said_when_the_banks_fit_nowhere() -> None:
    """A yard that holds the pad but not its banks is refused, with the reason."""
    tight = np.array([[12.0, 12.0], [17.02, 12.0], [17.02, 15.52], [12.0, 15.52]])
    with pytest.raises(PlacementError, match="its banks do not"):
        find_banked_placement(GROUND, PAD, Limits(boundary=(tight,)), GOALS["balance"], LOAM)
