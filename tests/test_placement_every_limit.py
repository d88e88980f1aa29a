"""Every limit on the search: kept by what is found, never above the bound, and named where nothing fits."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely

from limit_cases import BOTH, CASES, GOAL, PAD
from naive_placement import ground_of, random_yard
from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.earthwork.slopes import pad_slopes
from spadework.errors import InputError, PlacementError
from spadework.pad import Placement
from spadework.placement import Goal, ProofEffort, find_placement
from spadework.placement.check_proof import check_proof
from spadework.placement.limits import (
    BearingLimit,
    FacingLimit,
    FinishLimit,
    KeepOut,
    Limits,
    PositionLimit,
    ReachLimit,
)
from spadework.placement.pose_rules import PoseRules
from spadework.units import LengthUnit


@pytest.mark.parametrize("case", CASES)
def test_limit_is_kept_and_nothing_allowed_lies_below_the_bound(case: str) -> None:
    """What is found keeps it, by other means; sampled placements that keep it are never below the bound."""
    pad, goal, limits = CASES[case]
    ground = random_yard(6, 30)
    result = find_placement(ground, pad, limits, goal, 0.9, effort=ProofEffort(share=0.05, work=800_000))
    spot, at = result.best, result.best.placement
    assert result.proof is not None
    assert result.proof.lower_bound <= spot.value + 1e-9
    check = check_proof(ground, pad, limits, goal, 0.9, result, samples=30)
    assert check.holds, check.sentence
    assert check.allowed >= 4, "the samples say something"
    corners = at.corners(pad)
    for start, width in limits.bearing.ranges[:1]:
        assert any((at.bearing - s) % 360 <= w + 1e-9 for s, w in limits.bearing.ranges), (start, width)
    low, high = limits.finish.lowest, limits.finish.highest
    assert (low or -1e9) - 1e-9 <= at.finish <= (high or 1e9) + 1e-9
    for reach in limits.reaches:
        away = [math.dist((reach.east, reach.north), corner) for corner in corners]
        nearest = shapely.Polygon(corners).distance(shapely.Point(reach.east, reach.north))
        assert {"nearest": nearest, "farthest": max(away)}[reach.to] <= reach.distance + 1e-6
    for facing in limits.facings:
        measured = PoseRules.of(pad, limits).measured(np.array([[at.east, at.north, at.bearing]]))[0, -1]
        assert measured <= facing.within + 1e-9
    if limits.ground_slope is not None:
        assert pad_slopes(ground, pad, np.array([[at.east, at.north, at.bearing]]))[0] <= limits.ground_slope + 1e-9
    if limits.carted is not None:
        assert spot.over <= limits.carted + 1e-6
    if limits.bought is not None:
        assert spot.short <= limits.bought + 1e-6
    if limits.position is not None:
        assert corners[pad.names.index("D")] == pytest.approx([9.0, 9.0])


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("keep", [1.0, 0.85])
def test_level_is_best_between_the_limits_on_soil(seed: int, keep: float) -> None:
    """No level of a fine ladder that keeps both limits is better, and the one given keeps them."""
    ground, rng = random_yard(seed), np.random.default_rng(seed)
    carted, bought = float(rng.uniform(0, 0.3)), float(rng.uniform(0, 0.3))
    rule = {"keep": keep, "cut_weight": 0.2, "fill_weight": 1.0, "over_weight": 0.1, "short_weight": 0.3}
    poses = np.column_stack([rng.uniform(4, 20, 6), rng.uniform(4, 16, 6), rng.uniform(0, 360, 6)])

    def soil(cut: np.ndarray, fill: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        over, short = np.maximum(cut - fill / keep, 0), np.maximum(fill - keep * cut, 0)
        return over, short, 0.2 * cut + fill + 0.1 * over + 0.3 * short

    for compiled in (True, False):
        found = pad_levels_batch(
            ground,
            PAD,
            poses,
            LevelRule(kind="goal", most_over=carted, most_short=bought, **rule),
            use_compiled=compiled,
        )
        over, short, value = soil(found.cut, found.fill)
        assert (over <= carted + 1e-9).all()
        assert (short <= bought + 1e-9).all()
        assert (over > carted - 1e-6).any() or (short > bought - 1e-6).any(), "a limit counts"
        for level in np.linspace(-0.4, 0.4, 81):
            for row, pose in enumerate(poses):
                tried = pad_levels_batch(
                    ground, PAD, pose[None], LevelRule(kind="fixed", finish=float(found.ground_mean[row] + level))
                )
                left, missing, worth = soil(tried.cut, tried.fill)
                if left[0] <= carted and missing[0] <= bought:
                    assert value[row] <= worth[0] + 1e-9


SQUARE = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]])
CORNERS = np.array([[-30.0, -30.0], [50.0, -30.0], [50.0, 50.0], [-30.0, 50.0]])
SLOPE = ground_of(CORNERS, 100.0 + 0.1 * CORNERS[:, 1])


def message(limits: Limits, goal: Goal = GOAL) -> str:
    """What is said when nothing fits."""
    with pytest.raises(PlacementError) as caught:
        find_placement(SLOPE, PAD, limits, goal, 0.9, unit=LengthUnit.METRE)
    return str(caught.value)


def number_after(words: str, text: str) -> float:
    """The first number after some words."""
    found = re.search(re.escape(words) + r"\D*?(-?[\d.]+)", text)
    assert found, (words, text)
    return float(found.group(1).rstrip("."))


def test_reach_when_the_point_is_too_far() -> None:
    """10 m east of a square yard the nearest pad is 10 m away, however it lies."""
    limits = Limits(boundary=(SQUARE,), reaches=(ReachLimit("tap", 30.0, 10.0, 4.0),))
    text = message(limits)
    assert "the reach to tap (within 4.000 m) forbids 100 %" in text
    assert number_after("the reach to tap:", text) == pytest.approx(10.0, abs=0.01)


def test_facing_when_the_bearing_is_fixed() -> None:
    """A front that looks north misses a gate in the south by about a half turn; the nearest bearing is told as well."""
    limits = Limits(
        boundary=(SQUARE,),
        bearing=BearingLimit(0.0),
        facings=(FacingLimit("gate", 10.0, -2000.0, 10.0),),
    )
    text = message(limits)
    assert "facing gate (within 10.0°) forbids 100 %" in text
    assert number_after("facing gate:", text) == pytest.approx(180.0, abs=1.0)
    assert number_after("bearing:", text) == pytest.approx(170.0, abs=5.0)


def test_ground_when_it_is_steeper_than_the_limit() -> None:
    """The slope that there is and the one that is allowed are told."""
    text = message(Limits(boundary=(SQUARE,), ground_slope=0.05))
    assert "lie on ground steeper than the limit" in text
    assert "slopes 1 in 10 (10.0 %)" in text


def test_window_when_no_ground_comes_near_it() -> None:
    """A finish of 90 m cuts 10 m deep at least; 300 mm may be cut."""
    limits = Limits(boundary=(SQUARE,), finish=FinishLimit(highest=90.0), cut_depth=0.3)
    text = message(limits)
    assert "no finish level within the limits on heights" in text
    assert "finish up to 90.000 m" in text


def test_soil_when_more_is_left_over_than_may_be_carted() -> None:
    """A finish held 1 m below ground leaves the pad's area of soil over, about."""
    limits = Limits(position=PositionLimit(10.0, 10.0), finish=FinishLimit("fixed", 100.0), carted=2.0)
    text = message(limits, BOTH)
    assert "leave more soil over than may be carted away" in text
    assert number_after("leaves", text) == pytest.approx(12.0, abs=0.5)


def test_bounds_of_the_finish_when_they_cross() -> None:
    """They are refused."""
    with pytest.raises(InputError, match=r"100\.000 m at the highest and 101\.000 m at the lowest"):
        Limits(finish=FinishLimit(lowest=101.0, highest=100.0))


def test_flush_with_the_lowest_ground_of_the_edge() -> None:
    """On a slope north the lowest edge is half the pad's reach south of its middle."""
    limits = Limits(
        position=PositionLimit(10.0, 10.0), bearing=BearingLimit(0.0), finish=FinishLimit("flush-low"), bought=0.0
    )
    found = find_placement(SLOPE, PAD, limits, BOTH, 0.9).best
    assert found.placement.finish == pytest.approx(100.0 + 0.1 * (10.0 - 2.0))
    assert found.fill == pytest.approx(0.0, abs=1e-9)
    assert isinstance(found.placement, Placement)


def test_notice_when_a_point_to_reach_holds_the_spot() -> None:
    """A bowl flattens towards its middle in the east: the pad goes as far that way as the reach lets it."""
    bowl = ground_of(
        np.array([[e, n] for e in range(-12, 13, 2) for n in range(-12, 13, 2)], dtype=float),
        np.array([0.002 * ((e - 40) ** 2 + (n - 4) ** 2) for e in range(-12, 13, 2) for n in range(-12, 13, 2)]),
    )
    limits = Limits(reaches=(ReachLimit("tap", -4.0, 0.0, 4.0, "middle"),))
    found = find_placement(bowl, PAD, limits, GOAL, 0.9)
    spot = found.best.placement
    assert math.dist((spot.east, spot.north), (-4.0, 0.0)) == pytest.approx(4.0, abs=1e-3)
    assert "The best spot is held by the reach to tap: more freedom there might do better." in found.notices


def turned(place: tuple[float, float]) -> tuple[float, float]:
    """A place when the whole site is turned a quarter turn clockwise and moved."""
    east, north = place
    return north + 300.0, -east - 120.0


def test_everything_turns_with_the_site() -> None:
    """A site turned a quarter turn has the same best spot, turned: land, line, reach, front, ranges and finish."""
    ground = random_yard(6, 30)
    there = ground_of(
        np.array([turned((e, n)) for e, n in np.column_stack([ground.east, ground.north]) + ground.origin]),
        ground.level,
    )
    land, drain = np.array([[1.0, 1.0], [23.0, 1.0], [23.0, 19.0], [1.0, 19.0]]), np.array([[0.0, 8.0], [14.0, 5.0]])

    def limits(move: object, turn: float) -> Limits:
        def ring(places: np.ndarray) -> np.ndarray:
            return np.array([move((e, n)) for e, n in places.tolist()])  # type: ignore[operator]

        return Limits(
            boundary=(ring(land),),
            setback=0.5,
            keep_outs=(KeepOut.line("drain", ring(drain), 0.5),),
            bearing=BearingLimit(ranges=((60.0 + turn, 50.0),)),
            reaches=(ReachLimit("tap", *move((20.0, 12.0)), 9.0, "farthest"),),  # type: ignore[operator]
            facings=(FacingLimit("gate", *move((23.0, 4.0)), 80.0, "BC"),),  # type: ignore[operator]
            finish=FinishLimit(highest=100.3),
            ground_slope=0.2,
        )

    here = find_placement(ground, PAD, limits(lambda place: place, 0.0), GOAL, 0.9).best
    moved = find_placement(there, PAD, limits(turned, 90.0), GOAL, 0.9).best
    assert moved.value == pytest.approx(here.value, rel=1e-4)
    assert (moved.placement.east, moved.placement.north) == pytest.approx(
        turned((here.placement.east, here.placement.north)), abs=0.02
    )
    assert moved.placement.bearing % 360 == pytest.approx((here.placement.bearing + 90.0) % 360, abs=0.2)
    assert moved.placement.finish == pytest.approx(here.placement.finish, abs=1e-3)
