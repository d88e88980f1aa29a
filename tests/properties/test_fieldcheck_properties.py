"""What holds of every check: stakes fed back are right, signs turn with the levels, and places do not matter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from field_checks import check_of, grid_on, wanted_pad
from grounds import shots_of
from sample_plan import sample_plan
from spadework.errors import InputError
from spadework.fieldcheck import FieldCheck, field_check, stage_named
from spadework.pad import Placement
from spadework.read.check_list import read_check_list
from spadework.read.text import lines_of_text
from spadework.stakeout import stake_out
from spadework.survey_check import wanted_from_plan
from spadework.units import LengthUnit

bearings = st.floats(0, 359.9)
offs = st.lists(st.floats(-0.2, 0.2), min_size=20, max_size=20)


def rough(off: list[float], bearing: float = 0.0, at: tuple[float, float] = (20.0, 30.0)) -> FieldCheck:
    """A check of a formation that is off by given amounts on a grid of 5 by 4."""
    wanted = wanted_pad(bearing=bearing, at=at)
    return check_of(wanted, grid_on(wanted), 100.0 + np.array(off))


@settings(max_examples=15, deadline=None)
@given(bearing=bearings, finish=st.floats(99.5, 100.5), hi=st.floats(100.8, 103.0))
def test_stakes_fed_back_are_right(bearing: float, finish: float, hi: float) -> None:
    """A rod that reads the grade rod at every stake is in tolerance to the last digit, at formation and at finish."""
    plan = sample_plan()
    placement = Placement(13.0, 9.0, bearing, finish)
    stakes = stake_out(plan.ground, plan.pad, placement, plan.references, bench=("BM1", 100.0), hi=hi).stakes
    wanted = wanted_from_plan(plan)
    wanted = replace(wanted, placement=placement)
    for stage in ("formation", "finish"):
        rods = [stake.grade_rod(hi) if stage == "formation" else stake.finish_rod(hi) for stake in stakes]
        shots = shots_of(
            [stake.east for stake in stakes],
            [stake.north for stake in stakes],
            [hi - rod for rod in rods],
            [stake.name for stake in stakes],
        )
        made = field_check(wanted, shots, stage_named(stage, plan.pad.build_up))
        assert [point.deviation for point in made.points] == pytest.approx([0.0] * len(stakes), abs=1e-9)
        assert made.amounts is not None
        assert (made.amounts.dig, made.amounts.bring) == pytest.approx((0.0, 0.0), abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(off=offs, bearing=bearings)
def test_high_and_low_change_places_when_levels_are_turned_over(off: list[float], bearing: float) -> None:
    """Turning every deviation over swaps high and low, dig and bring, hump and hollow, and the way it falls."""
    one, other = rough(off, bearing), rough([-value for value in off], bearing)
    swap = {"high": "low", "low": "high", "in tolerance": "in tolerance"}
    assert [swap[point.state] for point in one.points] == [point.state for point in other.points]
    assert one.amounts is not None
    assert other.amounts is not None
    assert one.amounts.dig - one.amounts.bring == pytest.approx(other.amounts.bring - other.amounts.dig, abs=1e-9)
    assert one.plane is not None
    assert other.plane is not None
    assert one.plane.slope == pytest.approx(other.plane.slope, abs=1e-9)
    if one.plane.slope > 1e-6:
        turn = (one.plane.aspect - other.plane.aspect) % 360.0
        assert turn == pytest.approx(180.0, abs=1e-3)


@settings(max_examples=15, deadline=None)
@given(off=offs, bearing=bearings, east=st.floats(-1e6, 1e6), north=st.floats(-1e6, 1e6))
@example(off=[0.0] * 20, bearing=2.225073858507203e-309, east=0.0, north=0.0)  # a quotient that overflowed
def test_nothing_changes_when_the_site_is_moved_and_turned(
    off: list[float], bearing: float, east: float, north: float
) -> None:
    """Where the pad lies and which way it is turned changes no volume, no tilt and no verdict."""
    here, there = rough(off), rough(off, bearing, (east, north))
    assert here.amounts is not None
    assert there.amounts is not None
    assert there.amounts.covered == pytest.approx(1.0, abs=1e-6)
    assert there.within == here.within
    assert there.plane is not None
    assert here.plane is not None
    assert there.plane.tilt == pytest.approx(here.plane.tilt, abs=1e-6)
    assert there.amounts.dig == pytest.approx(here.amounts.dig, abs=1e-6)
    assert there.amounts.bring == pytest.approx(here.amounts.bring, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(off=offs, more=st.floats(-0.3, 0.3))
def test_volume_changes_by_the_area_times_the_change(off: list[float], more: float) -> None:
    """Raising every level by a height changes dig less bring by the area of the pad times the height."""
    one, other = rough(off), rough([value + more for value in off])
    assert one.amounts is not None
    assert other.amounts is not None
    change = (other.amounts.dig - other.amounts.bring) - (one.amounts.dig - one.amounts.bring)
    assert change == pytest.approx(12.0 * more, abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(off=offs, east=st.floats(-0.1, 0.1), north=st.floats(-0.1, 0.1))
def test_flatness_does_not_change_when_a_plane_is_added(off: list[float], east: float, north: float) -> None:
    """A straight-edge lies on what is tilted as on what is level."""
    wanted = wanted_pad()
    random = np.random.default_rng(11)
    # Scattered points have one set of triangles; on a grid the tilt may turn a diagonal.
    points = wanted.placement.to_site(random.uniform([-1.9, -1.4], [1.9, 1.4], (20, 2)))
    tilt = (points - [20.0, 30.0]) @ [east, north]
    made = [check_of(wanted, points, 100.0 + np.array(off) + plane) for plane in (0.0, tilt)]
    assert made[0].flatness is not None
    assert made[1].flatness is not None
    assert abs(made[1].flatness.deviation) == pytest.approx(abs(made[0].flatness.deviation), abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(off=offs)
def test_unit_changes_no_verdict(off: list[float]) -> None:
    """The same levels with the same tolerance are judged the same in metres and in feet."""
    made = [
        check_of(wanted, grid_on(wanted), 100.0 + np.array(off), tolerance=0.015)
        for wanted in (wanted_pad(units=unit) for unit in LengthUnit)
    ]
    assert len({tuple(point.state for point in check.points) for check in made}) == 1


cells = st.sampled_from(
    ["A", "BM1", "1.352", "2.2O5", "-", "", "stake", "rod", "drop", "east", "4' 3\"", "1e9", "nan", "#"]
)
comments = st.sampled_from(
    [
        "# bench: BM1 reading 1.352",
        "# bench: x",
        "# stage: finish",
        "# units: ft",
        "# units: q",
        "# line: 3",
        "# note on A: b",
    ]
)
lines = st.one_of(comments, st.lists(cells, max_size=4).map(",".join), st.text(max_size=12))


@settings(max_examples=150, deadline=None)
@given(text=st.lists(lines, max_size=8).map("\n".join))
def test_list_is_read_or_refused(text: str) -> None:
    """Whatever the text, it is read as readings or refused in words."""
    try:
        found = read_check_list(lines_of_text(text, "levels.csv"), units=LengthUnit.METRE)
    except InputError:
        return
    assert found.recognised.sentence.startswith("read as")
