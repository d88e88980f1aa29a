"""Stakes, ties, squaring and the depth grid, each against arithmetic that can be done by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from spadework.errors import InputError, PlacementError
from spadework.pad import BuildUp, Layer, Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout import StakeOut, depth_mark, grade_rod, height_of_instrument, skew_angle, stake_out
from spadework.stakeout.grid import on_outline, round_spacing
from spadework.units import LengthUnit


@dataclass(frozen=True)
class PlaneGround:
    """A plane that stands in for the ground: level = base + slope_east * east + slope_north * north."""

    base: float = 100.0
    slope_east: float = 0.0
    slope_north: float = 0.0
    reach: float = 1e9

    def level_at(self, points: FloatArray) -> FloatArray:
        """Level of each point. [m]"""
        level = self.base + points @ np.array([self.slope_east, self.slope_north])
        return np.where(np.abs(points).max(axis=-1) <= self.reach, level, np.nan)


def tilted(**options: object) -> StakeOut:
    """A 4 m by 3 m pad, its A at the origin, AB to the north, on ground that rises 5 % to the east."""
    pad = Pad.rectangle(4.0, 3.0, strip=0.08, build_up=BuildUp((Layer("stone", 0.1), Layer("slab", 0.05))))
    ground = PlaneGround(base=100.0, slope_east=0.05)
    placement = Placement(1.5, 2.0, 0.0, 100.10)
    return stake_out(ground, pad, placement, **options)  # type: ignore[arg-type]


def test_stake_out_names_corners_clockwise_when_bearing_is_north() -> None:
    """A and B stand along the left side, C and D along the right."""
    found = {stake.name: (stake.east, stake.north) for stake in tilted().stakes}
    expected = {"A": (0, 0), "B": (0, 4), "C": (3, 4), "D": (3, 0)}
    assert found == {name: pytest.approx(place, abs=1e-12) for name, place in expected.items()}


def test_stake_out_says_cut_and_fill_after_the_strip() -> None:
    """Formation 100.10 - 0.15 = 99.95; stripped ground at A is 99.92 (fill 0.03) and at C 100.07 (cut 0.12)."""
    a, _, c, _ = tilted().stakes
    assert (a.formation, a.finish) == (pytest.approx(99.95), 100.10)
    assert (a.ground_level, a.stripped_level) == (pytest.approx(100.0), pytest.approx(99.92))
    assert (a.depth, a.cut, a.fill, a.dig) == tuple(pytest.approx(v) for v in (-0.03, 0.0, 0.03, 0.08))
    assert (c.depth, c.cut, c.fill, c.dig) == tuple(pytest.approx(v) for v in (0.12, 0.12, 0.0, 0.20))
    assert (a.exposed, c.exposed) == (pytest.approx(0.10), pytest.approx(-0.05))


def test_stake_out_gives_grade_rods_when_hi_is_given() -> None:
    """HI 101.4: 1.45 on the formation at 99.95 and 1.30 on the finish at 100.10."""
    found = tilted(hi=101.4)
    assert found.hi == 101.4
    assert found.stakes[0].grade_rod(found.hi) == pytest.approx(1.45)
    assert found.stakes[0].finish_rod(found.hi) == pytest.approx(1.30)


def test_height_of_instrument_is_bench_and_reading() -> None:
    """A rod of 1.25 on a bench mark at 100 puts the line of sight at 101.25, and a rod there reads zero."""
    assert height_of_instrument(100.0, 1.25) == 101.25
    assert grade_rod(101.25, 101.25) == 0.0


def test_stake_out_measures_sides_and_diagonals() -> None:
    """Sides in order round the pad, both diagonals 5 for a 4 by 3 pad."""
    found = tilted()
    assert [(side.start + side.end, round(side.length, 12)) for side in found.sides] == [
        ("AB", 4.0),
        ("BC", 3.0),
        ("CD", 4.0),
        ("DA", 3.0),
    ]
    assert [(diagonal.start + diagonal.end, round(diagonal.length, 12)) for diagonal in found.diagonals] == [
        ("AC", 5.0),
        ("BD", 5.0),
    ]


def test_stake_out_counts_sides_and_diagonals_when_outline_has_five_corners() -> None:
    """A polygon of m corners has m sides and m (m - 3) / 2 diagonals."""
    pad = Pad(np.array([[0.0, 0.0], [3.0, 0.0], [4.0, 1.0], [2.0, 3.0], [0.0, 2.0]]))
    found = stake_out(PlaneGround(), pad, Placement(0.0, 0.0, 30.0, 100.0))
    assert [side.start + side.end for side in found.sides] == ["AB", "BC", "CD", "DE", "EA"]
    assert len(found.diagonals) == 5


def test_stake_out_ties_each_stake_from_each_reference() -> None:
    """Triangles 3-4-5 from two references on the line through A and D."""
    found = tilted(references=(("H1", -3.0, 0.0), ("H2", 6.0, 0.0)))
    b, c = found.stakes[1], found.stakes[2]
    assert [(tie.reference, tie.distance) for tie in b.ties] == [
        ("H1", pytest.approx(5.0)),
        ("H2", pytest.approx(math.sqrt(52))),
    ]
    assert [tie.distance for tie in c.ties] == [pytest.approx(math.sqrt(52)), pytest.approx(5.0)]
    assert (b.side, c.side) == ("left", "left")
    # at B the ties point to (-3, -4) and (6, -4): cos = (-18 + 16) / (5 √52)
    assert b.crossing == pytest.approx(math.degrees(math.acos(-2 / (5 * math.sqrt(52)))))


def test_stake_out_warns_when_ties_cross_badly() -> None:
    """A and D stand on the line through the references: ties cross at 180°, and both stakes are named."""
    found = tilted(references=(("H1", -3.0, 0.0), ("H2", 6.0, 0.0)))
    assert [stake.side for stake in found.stakes] == ["on", "left", "left", "on"]
    assert len(found.notices) == 2
    assert "stake A cross at 180°" in found.notices[0]
    assert "stake D cross at 180°" in found.notices[1]


def test_stake_out_says_right_when_references_are_taken_the_other_way() -> None:
    """Left of H1 to H2 is right of H2 to H1."""
    found = tilted(references=(("H2", 6.0, -4.0), ("H1", -3.0, -4.0)))
    assert [stake.side for stake in found.stakes] == ["right"] * 4
    assert found.notices == ()


def test_stake_out_warns_in_the_users_unit_when_a_tie_is_longer_than_the_tape() -> None:
    """A reference 40 m off is out of reach of a 30 m tape, which is said in feet to one who works in feet."""
    found = tilted(references=(("H1", -3.0, -1.0), ("oak", 0.0, 40.0)), unit=LengthUnit.FOOT)
    (far,) = [notice for notice in found.notices if notice.startswith("From ")]
    assert far.startswith("From oak the tape of 98.43 ft does not reach (to A 131.23 ft, B ")


def test_stake_out_warns_when_a_reference_will_be_dug_away() -> None:
    """A reference on the pad is lost when digging starts."""
    found = tilted(references=(("peg", 1.0, 1.0), ("H1", -3.0, 1.0)))
    assert [notice for notice in found.notices if "peg stands on the pad" in notice]


def test_stake_out_refuses_when_references_do_not_fix_a_stake() -> None:
    """Two references at one place, a spacing of zero and a tape of no length are all said at once."""
    with pytest.raises(InputError) as caught:
        tilted(references=(("H1", 1.0, 1.0), ("H2", 1.0, 1.0)), grid=0.0, tape=-1.0)
    assert len(caught.value.faults) == 3
    with pytest.raises(InputError, match="one reference"):
        tilted(references=(("H1", 1.0, 1.0),))
    with pytest.raises(InputError, match="two references are called 'h1'"):
        tilted(references=(("H1", 1.0, 1.0), ("h1", 2.0, 1.0)))
    with pytest.raises(InputError, match="wider grid"):
        tilted(grid=0.001)


def test_stake_out_refuses_when_a_corner_is_off_the_ground() -> None:
    """A corner outside the measured ground has no level, and is named."""
    with pytest.raises(PlacementError, match="corner A, B of the pad"):
        stake_out(PlaneGround(reach=2.0), Pad.rectangle(3.0, 3.0), Placement(0.5, 1.0, 90.0, 100.0))  # type: ignore[arg-type]


def test_stake_out_reaches_a_corner_on_the_rim_of_the_ground() -> None:
    """A pad that fills the measured ground to the last bit has levels at its corners all the same."""
    found = stake_out(
        PlaneGround(reach=1.5 - 1e-9),  # type: ignore[arg-type]
        Pad.rectangle(3.0, 3.0),
        Placement(0.0, 0.0, 0.0, 100.0),
    )
    assert [stake.ground_level for stake in found.stakes] == [100.0] * 4
    assert np.isfinite(found.grid.ground_level).all()


def test_depth_grid_starts_at_corner_a_and_includes_the_edges() -> None:
    """Every metre along from A, and the far edge though it is half a step further."""
    pad = Pad.rectangle(3.5, 2.0, strip=0.1)
    ground = PlaneGround(base=50.0, slope_north=0.1)
    found = stake_out(ground, pad, Placement(1.0, 1.75, 0.0, 50.0), grid=1.0)  # type: ignore[arg-type]
    grid = found.grid
    assert grid.along.tolist() == pytest.approx([0, 1, 2, 3, 3.5])
    assert grid.across.tolist() == pytest.approx([0, 1, 2])
    assert (grid.east[0, 0], grid.north[0, 0]) == (pytest.approx(0.0), pytest.approx(0.0))
    assert grid.ground_level[2].tolist() == pytest.approx([50.0, 50.1, 50.2, 50.3, 50.35])
    assert grid.depth[0].tolist() == pytest.approx([-0.1, 0.0, 0.1, 0.2, 0.25])
    assert grid.dig[0].tolist() == pytest.approx([0.1, 0.1, 0.2, 0.3, 0.35])


def test_depth_grid_leaves_out_points_off_the_pad() -> None:
    """An L-shaped pad has no depth in the notch, and its inner corner belongs to it."""
    pad = Pad(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, 2.0], [0.0, 2.0]]))
    grid = stake_out(PlaneGround(), pad, Placement(0.0, 0.0, 0.0, 100.0), grid=0.5).grid  # type: ignore[arg-type]
    on_pad = np.isfinite(grid.depth)
    assert on_pad.tolist() == [
        [True] * 5,
        [True] * 5,
        [True] * 5,
        [True, True, True, False, False],
        [True] * 3 + [False] * 2,
    ]


@pytest.mark.parametrize(
    ("length", "unit", "expected"),
    [
        (1.5, LengthUnit.METRE, 0.25),
        (3.7, LengthUnit.METRE, 0.5),
        (8.0, LengthUnit.METRE, 1.0),
        (8.1, LengthUnit.METRE, 2.0),
        (12 * 0.3048, LengthUnit.FOOT, 2 * 0.3048),
        (30 * 0.3048, LengthUnit.FOOT_INCH, 5 * 0.3048),
    ],
)
def test_round_spacing_is_round_in_the_users_unit(length: float, unit: LengthUnit, expected: float) -> None:
    """At most eight steps along the longer side, each round in metres or in feet."""
    assert round_spacing(Pad.rectangle(length, 1.0), unit) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("depth", "unit", "mark"),
    [
        (0.352, LengthUnit.METRE, "C 0.35"),
        (-0.2, LengthUnit.METRE, "F 0.20"),
        (0.004, LengthUnit.METRE, "GRADE"),
        (-0.006, LengthUnit.METRE, "F 0.01"),
        (3.54 * 0.3048, LengthUnit.FOOT, "C 3.54"),
        (0.004 * 0.3048, LengthUnit.FOOT, "GRADE"),
        (-6.5 * 0.0254, LengthUnit.FOOT_INCH, 'F 6 1/2"'),
        (18.25 * 0.0254, LengthUnit.FOOT_INCH, "C 1' 6 1/4\""),
        (0.4 * 0.0254, LengthUnit.FOOT_INCH, 'C 3/8"'),
        (11.99 * 0.0254, LengthUnit.FOOT_INCH, "C 1' 0\""),
        (0.05 * 0.0254, LengthUnit.FOOT_INCH, "GRADE"),
    ],
)
def test_depth_mark_is_what_a_stake_says(depth: float, unit: LengthUnit, mark: str) -> None:
    """C and F with their numerals, GRADE within half a printed step."""
    assert depth_mark(depth, unit) == mark


def test_skew_angle_is_zero_when_diagonals_agree() -> None:
    """Equal diagonals are square corners."""
    assert skew_angle(4.0, 3.0, 5.0, 5.0) == 0.0


def test_skew_angle_finds_the_angle_a_parallelogram_was_made_with() -> None:
    """A figure leaned by 2 degrees: diagonals from its corners by Pythagoras, angle back from the diagonals."""
    lean = math.radians(2.0)
    corner = np.array([3.0 * math.sin(lean), 3.0 * math.cos(lean)])
    first = math.hypot(4.0 + corner[0], corner[1])
    second = math.hypot(4.0 - corner[0], corner[1])
    assert skew_angle(4.0, 3.0, first, second) == pytest.approx(2.0, abs=1e-12)
    assert skew_angle(4.0, 3.0, second, first) == pytest.approx(-2.0, abs=1e-12)


def test_skew_angle_refuses_when_tapes_cannot_be_right() -> None:
    """Diagonals that no figure with those sides has are sent back to be taped again."""
    with pytest.raises(InputError, match=r"(?i)tape the sides and the diagonals again"):
        skew_angle(4.0, 3.0, 9.0, 1.0)


def test_on_outline_agrees_with_shapely_when_points_are_scattered() -> None:
    """Inside or on the edge, for a star-shaped outline, by a general geometry library."""
    shapely = pytest.importorskip("shapely")
    random = np.random.default_rng(7)
    angles = np.sort(random.uniform(0, 2 * np.pi, 11))
    outline = random.uniform(1, 3, 11)[:, np.newaxis] * np.column_stack([np.cos(angles), np.sin(angles)])
    points = np.vstack([random.uniform(-3, 3, (2000, 2)), outline, (outline + np.roll(outline, 1, axis=0)) / 2])
    expected = shapely.dwithin(shapely.points(points), shapely.Polygon(outline), 1e-9)
    assert on_outline(outline, points).tolist() == expected.tolist()
