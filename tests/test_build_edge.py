"""The timber edge: embedded at every station, level, joined from what can be bought, held and counted as drawn."""

import math
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spadework.build.edge import EdgePlan, edge_plan
from spadework.build.joints import through_at
from spadework.build.lumber import StockLength, section_named
from spadework.build.options import EdgeOptions
from spadework.errors import InputError
from spadework.units import LengthUnit
from spadework.write.edge_drawing import edge_page
from timber_yard import planned, ring

METRE = LengthUnit.METRE

corner_levels = st.lists(st.integers(-600, 250), min_size=1, max_size=4)
"""Levels along a side, in millimetres from the top of the frame, evenly spread from its first corner."""
shapes = st.tuples(
    st.tuples(corner_levels, corner_levels, corner_levels, corner_levels),
    st.integers(15, 90),
    st.integers(15, 90),
    st.sampled_from(["100 x 150", "100 x 100", "4x4", "6x6"]),
    st.sampled_from([1.8, 2.4, 3.6, 4.8]),
)
Shape = tuple[tuple[list[int], ...], int, int, str, float]


def made(shape: Shape) -> EdgePlan:
    """A frame on a random ground: corners, sides of 1.5 to 9 m, section, longest timber."""
    corners, long, wide, section, longest = shape
    sizes = (long / 10, wide / 10, long / 10, wide / 10)
    profiles = ring([[10.0 + level / 1000 for level in levels] for levels in corners], sizes)
    return edge_plan(
        profiles,
        top=10.0,
        formation=9.9,
        strip=0.05,
        section=section_named(section, METRE),
        longest=longest,
        options=EdgeOptions.usual(METRE),
        unit=METRE,
    )


def foot_of_timber(edge: EdgePlan, side: str, distance: float) -> float:
    """Level of the lowest timber at a place, looked up piece by piece; a corner's timber may be the neighbour's."""
    drop = 0.0
    names = [one.name for one in edge.sides]
    number = names.index(side)
    length = edge.sides[number].length
    breadth = edge.section.breadth
    for piece in edge.pieces:
        here = piece.side == side and piece.start - 1e-9 <= distance <= piece.end + 1e-9
        before = piece.side == names[number - 1] and distance <= breadth + 1e-9
        after = piece.side == names[(number + 1) % len(names)] and distance >= length - breadth - 1e-9
        reaches_back = before and piece.end >= edge.sides[number - 1].length - 1e-9
        reaches_on = after and piece.start <= 1e-9
        if here or reaches_back or reaches_on:
            drop = max(drop, piece.course * edge.section.height)
    return edge.top - drop


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shape=shapes)
def test_edge_when_every_station_is_measured(shape: Shape) -> None:
    """At 60 stations of each side and on both sides of every step the lowest timber is deep enough in the ground."""
    edge = made(shape)
    for side in edge.sides:
        stations = [*np.linspace(0.0, side.length, 60)]
        for run in side.runs:
            stations += [max(run.start - 1e-6, 0.0), min(run.end + 1e-6, side.length)]
        for at in stations:
            ground = float(np.interp(at, side.profile.distance, side.profile.level))
            depth = ground - foot_of_timber(edge, side.name, float(at))
            assert depth >= edge.options.embedment - 1e-6, (side.name, at)
        assert side.least_embedment() >= edge.options.embedment - 1e-9


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shape=shapes)
def test_edge_when_laid(shape: Shape) -> None:
    """The top course goes all round, each lower course lies under the one above, and nothing is missing between."""
    edge = made(shape)
    for side in edge.sides:
        assert [(run.start, run.end) for run in side.runs if run.course == 1] == [(0.0, side.length)]
        for run in side.runs:
            if run.course > 1:
                above = [other for other in side.runs if other.course == run.course - 1]
                assert any(other.start <= run.start + 1e-9 and run.end <= other.end + 1e-9 for other in above)
                assert run.length >= min(edge.options.least_piece, side.length) - 1e-9
        for course in range(1, side.courses + 1):
            runs = [run for run in side.runs if run.course == course]
            for before, after in pairwise(runs):
                assert after.start - before.end >= edge.options.least_piece - 1e-9


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shape=shapes)
def test_edge_when_cut_into_pieces(shape: Shape) -> None:
    """No piece is longer than can be bought; pieces of a run overlap by one lap at each joint and fill it otherwise."""
    edge = made(shape)
    assert len({piece.mark for piece in edge.pieces}) == len(edge.pieces)
    total = 0.0
    for number, side in enumerate(edge.sides):
        neighbours = (edge.sides[number - 1], edge.sides[(number + 1) % 4])
        for run in side.runs:
            held = [
                piece
                for piece in edge.pieces
                if (piece.side, piece.course) == (side.name, run.course)
                and run.start - 1e-9 <= piece.start
                and piece.end <= run.end + 1e-9
            ]
            assert max(piece.length for piece in held) <= edge.longest + 1e-9
            for before, after in pairwise(held):
                assert before.end - after.start == pytest.approx(edge.options.lap)
                assert before.joint_end
                assert after.joint_start
            gaps = (held[0].start - run.start, run.end - held[-1].end)
            corners = (run.start == 0.0, run.end >= side.length - 1e-9)
            meets = (
                any(r.course == run.course and r.end >= neighbours[0].length - 1e-9 for r in neighbours[0].runs),
                any(r.course == run.course and r.start == 0.0 for r in neighbours[1].runs),
            )
            for gap, corner, met, through in zip(gaps, corners, meets, through_at(number, run.course, 4), strict=True):
                wanted = edge.section.breadth if corner and met and not through else 0.0
                assert gap == pytest.approx(wanted, abs=1e-9)
            total += run.length - sum(gaps) + edge.options.lap * (len(held) - 1)
    assert edge.timber_length == pytest.approx(total)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shape=shapes)
def test_edge_when_pinned(shape: Shape) -> None:
    """Bars stand no further apart than the spacing, at every joint, as long as wanted or the longest there is."""
    edge = made(shape)
    options = edge.options
    for side in edge.sides:
        bars = [bar for bar in edge.bars if bar.side == side.name]
        places = [bar.distance for bar in bars]
        assert places == sorted(places)
        assert all(after - before <= options.bar_spacing + 1e-9 for before, after in pairwise(places))
        assert all(edge.section.breadth <= at <= side.length - edge.section.breadth for at in places)
        for piece in edge.pieces:
            if piece.side == side.name and piece.joint_end:
                assert min(abs(at - (piece.end - options.lap / 2)) for at in places) < 0.05
        for bar in bars:
            frame = edge.top - foot_of_timber(edge, side.name, bar.distance)
            assert bar.anchor == pytest.approx(bar.length - frame)
            assert bar.anchor >= options.bar_anchor - 1e-9 or bar.length == max(options.bar_lengths)
    middle = [bar for bar in edge.bars if bar.why == "tallest"]
    assert [(bar.side, bar.length) for bar in middle] == [(edge.tallest.name, max(options.bar_lengths))]
    assert middle[0].distance == pytest.approx(edge.tallest.length / 2)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(shape=shapes)
def test_edge_when_corners_cross(shape: Shape) -> None:
    """At every corner of a course where two sides meet one runs through; the course above, where whole, does not."""
    edge = made(shape)
    for number, side in enumerate(edge.sides):
        after = edge.sides[(number + 1) % 4]
        for course in range(1, min(side.courses, after.courses) + 1):
            mine = [p for p in edge.pieces if p.side == side.name and p.course == course]
            theirs = [p for p in edge.pieces if p.side == after.name and p.course == course]
            to_corner = any(abs(p.end - side.length) < 1e-9 for p in mine)
            from_corner = any(abs(p.start) < 1e-9 for p in theirs)
            short = any(abs(p.end - (side.length - edge.section.breadth)) < 1e-9 for p in mine)
            if to_corner or short:
                through = (number + course) % 2 == 1
                assert to_corner == (through or not any(abs(r.start) < 1e-9 and r.course == course for r in after.runs))
                assert not (to_corner and from_corner)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(shape=shapes)
def test_trench_when_summed_in_slices(shape: Shape) -> None:
    """The volume of each trench is that of 2,000 thin slices, to what the slices with a step or bend can be out."""
    edge = made(shape)
    for side, trench in zip(edge.sides, edge.trenches, strict=True):
        slices = 2000
        at = (np.arange(slices) + 0.5) * trench.length / slices
        ground = np.interp(at, side.profile.distance, side.profile.level)
        courses = np.max([np.where((at >= r.start) & (at <= r.end), r.course, 1) for r in side.runs], axis=0)
        depth = np.maximum(np.minimum(ground - 0.05, 9.9) - (edge.top - edge.section.height * courses), 0.0)
        uneven = 2 * len(side.runs) + 3 * len(side.profile.distance)
        allowed = uneven * trench.deepest * trench.length / slices * trench.width
        assert abs(float(depth.mean()) * trench.length * trench.width - trench.volume) <= allowed + 1e-12


def test_joints_when_stock_leaves_room() -> None:
    """On a long side joints of neighbouring courses stand at least the stagger apart."""
    low = [[9.3], [9.3], [9.3], [9.3]]
    edge = edge_plan(
        ring(low, (8.0, 5.0, 8.0, 5.0)),
        top=10.0,
        formation=9.9,
        strip=0.0,
        section=section_named("100 x 150", METRE),
        longest=4.8,
        options=EdgeOptions.usual(METRE),
        unit=METRE,
    )
    joints = {(piece.side, piece.course): piece.end - edge.options.lap / 2 for piece in edge.pieces if piece.joint_end}
    assert len(joints) == 2 * 6 + 2 * 3  # the short sides need one only where they run through: every other course
    for (side, course), place in joints.items():
        for way in (-1, 1):
            if (side, course + way) in joints:
                assert abs(joints[side, course + way] - place) >= edge.options.stagger - 1e-9


def test_joints_when_two_whole_timbers_leave_no_choice() -> None:
    """On 9.45 m two timbers of 4.8 m, lapped 0.15 m, meet at 4.725 m; the course below takes a third to stagger."""
    edge = edge_plan(
        ring([[9.7], [9.7], [9.7], [9.7]], (9.45, 3.0, 9.45, 3.0)),
        top=10.0,
        formation=9.9,
        strip=0.0,
        section=section_named("100 x 150", METRE),
        longest=4.8,
        options=EdgeOptions.usual(METRE),
        unit=METRE,
    )
    joints = {
        course: [
            piece.end - 0.075
            for piece in edge.pieces
            if (piece.side, piece.course) == ("AB", course) and piece.joint_end
        ]
        for course in (1, 2)
    }
    assert joints[1] == [pytest.approx(4.725)]
    assert len(joints[2]) == 2
    assert min(abs(joint - 4.725) for joint in joints[2]) >= 0.6 - 1e-9


def test_top_when_drawn() -> None:
    """The top of the first course is at one level all round, and each course lies on the one below without a gap."""
    built, _, _, _ = planned(10.2, 0.05, 0.05, 10.11)
    edge = built.edge
    assert edge is not None
    page = edge_page(edge, formation=9.9, title="t", unit=METRE)
    for piece in edge.pieces:
        patch = next(p for axes in page.axes for p in axes.patches if p.get_gid() == f"piece:{piece.mark}")
        top = patch.get_y() + patch.get_height()  # type: ignore[attr-defined]
        assert top == pytest.approx(-(piece.course - 1) * 0.15)
    assert {run.start for side in edge.sides for run in side.runs if run.course == 1} == {0.0}


def counted(edge: EdgePlan) -> tuple[Counter[str], float, dict[float, int]]:
    """What can be counted and measured on the drawing: artists by kind, length of timber, bars by length."""
    page = edge_page(edge, formation=9.9, title="t", unit=METRE)
    artists = [
        artist for axes in page.axes for artist in (*axes.patches, *axes.lines) if ":" in (artist.get_gid() or "")
    ]
    kinds = Counter(str(artist.get_gid()).partition(":")[0] for artist in artists)
    timber = math.fsum(a.get_width() for a in artists if str(a.get_gid()).startswith("piece:"))  # type: ignore[union-attr]
    bars = Counter(
        round(float(np.ptp(a.get_ydata())), 6)
        for a in artists
        if str(a.get_gid()).startswith("bar:")  # type: ignore[union-attr]
    )
    return kinds, timber, dict(bars)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(shape=shapes)
def test_edge_when_counted_off_the_drawing(shape: Shape) -> None:
    """Timbers, laps, bars by length, screws and lag screws are as many, and as long, as those drawn."""
    edge = made(shape)
    kinds, timber, bars = counted(edge)
    assert kinds["piece"] == len(edge.pieces)
    assert kinds["lap"] == edge.joints
    assert kinds["screw"] == len(edge.screws)
    assert kinds["lag"] == len(edge.lags)
    assert timber == pytest.approx(edge.timber_length)
    assert bars == {round(length, 6): count for length, count in edge.bar_counts.items()}


def test_materials_when_counted_off_the_drawing() -> None:
    """The shopping list has the bars, screws and lag screws of the drawing, and timber enough for what is drawn."""
    built, _, _, _ = planned(10.2, 0.05, 0.05, 10.11)
    assert built.edge is not None
    assert built.cutting is not None
    kinds, timber, bars = counted(built.edge)
    lines = {line.key: line.quantity for line in built.materials}
    assert (lines["screw"], lines["lag"]) == (kinds["screw"], kinds["lag"])
    assert {float(key[4:]) / 1000: lines[key] for key in lines if key.startswith("bar-")} == bars
    assert lines["timber-4800"] == len(built.cutting.timbers)
    assert sorted(mark for one in built.cutting.timbers for mark in one.marks) == sorted(
        piece.mark for piece in built.edge.pieces
    )
    assert math.fsum(length for one in built.cutting.timbers for length in one.lengths) == pytest.approx(timber)


@pytest.mark.parametrize(
    ("text", "unit", "flat", "breadth", "height"),
    [
        ("4x6", LengthUnit.FOOT_INCH, False, 3.5 * 0.0254, 5.5 * 0.0254),
        ("4 x 6", LengthUnit.FOOT, True, 5.5 * 0.0254, 3.5 * 0.0254),
        ("6 x 4", METRE, False, 3.5 * 0.0254, 5.5 * 0.0254),
        ("100 x 150", METRE, False, 0.1, 0.15),
        ("150x100 mm", METRE, True, 0.15, 0.1),
        ("89 × 140", LengthUnit.FOOT, False, 0.089, 0.14),
        ("6x6", METRE, False, 5.5 * 0.0254, 5.5 * 0.0254),
        ("", METRE, False, 0.1, 0.15),
        ("", LengthUnit.FOOT_INCH, False, 3.5 * 0.0254, 5.5 * 0.0254),
    ],
)
def test_section_when_named(text: str, unit: LengthUnit, flat: bool, breadth: float, height: float) -> None:
    """Inch stock has its dressed size (PS 20), metric stock the size it is called by, on edge unless laid flat."""
    section = section_named(text, unit, flat=flat)
    assert (section.breadth, section.height) == pytest.approx((breadth, height))


@pytest.mark.parametrize("text", ["oak", "3x9", "100", "4x6x8"])
def test_section_when_unknown(text: str) -> None:
    """What is no section, or has no published dressed size, is refused with what would do."""
    with pytest.raises(InputError, match=r"Write the real size in millimetres"):
        section_named(text, METRE)


def test_edge_when_bars_are_too_short() -> None:
    """A frame taller than the bars says so, with the side and what is wanted."""
    built, _, _, _ = planned(9.2, 0.0, 0.0, 10.2, stock=(StockLength(4.8),))
    assert any("reach through the frame" in notice or "short in the ground" in notice for notice in built.notices)


def test_edge_when_ground_stands_above_it() -> None:
    """Where the ground is higher than the finish there is one course, and the height above is reported."""
    built, _, _, _ = planned(10.3, 0.0, 0.0, 10.1)
    assert built.edge is not None
    assert [side.courses for side in built.edge.sides] == [1, 1, 1, 1]
    assert built.edge.ground_above == pytest.approx(0.2)
    assert built.edge.exposed == pytest.approx(-0.2)
