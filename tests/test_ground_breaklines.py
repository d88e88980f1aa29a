"""Lines along which the ground bends."""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from grounds import rough, scattered, shots_of
from spadework.errors import GroundError, Source
from spadework.ground import Ground, triangulate_shots
from spadework.ground.breaklines import Breakline
from spadework.ground.constrained import constrained_triangles
from spadework.ground.cross_validation import compare_surfaces
from spadework.ground.process import fit_process, ground_shots
from spadework.ground.sides import counter_clockwise
from spadework.shots import Shots


def volume(ground: Ground) -> float:
    """Volume between the ground and level 0."""
    return float(ground.triangle_areas @ ground.level[ground.triangles].mean(axis=1))


def ridge() -> Shots:
    """A ridge 10 m long at 2 m, its toes 2 m to either side at level 0."""
    return shots_of([0, 0, -2, 2], [0, 10, 5, 5], [2.0, 2.0, 0.0, 0.0], ("R1", "R2", "W", "E"))


def line(name: str, *places: tuple[float, float, float]) -> Breakline:
    """A breakline of the site file."""
    return Breakline(name, *np.array(places, dtype=float).T, Source("site.toml", 9))


def test_ridge_is_exact_with_its_breakline_and_a_saddle_without() -> None:
    """By hand: two triangles of 10 m² at a mean level of 4/3 m with the ridge; of 2/3 m where W and E are joined."""
    with_line = triangulate_shots(ridge(), breaklines=[("R1", "R2")])
    without = triangulate_shots(ridge())
    assert volume(with_line) == pytest.approx(20 * 4 / 3, rel=1e-12)
    assert volume(without) == pytest.approx(20 * 2 / 3, rel=1e-12)
    assert with_line.level_at(np.array([[0, 5], [1, 5]])) == pytest.approx([2.0, 1.0], abs=1e-12)
    assert without.level_at(np.array([[0, 5]])) == pytest.approx([0.0], abs=1e-12)
    assert with_line.kept.tolist() == [[0, 1]]


def test_triangles_are_those_of_scipy_when_no_side_is_kept() -> None:
    """Two libraries agree on the Delaunay triangles of 500 places."""
    ground = scattered(500, rough())
    _, mine = constrained_triangles(ground.east, ground.north, np.zeros((0, 2), dtype=np.int32))
    theirs = Delaunay(np.column_stack([ground.east, ground.north])).simplices
    assert {frozenset(one) for one in mine.tolist()} == {frozenset(one) for one in theirs.tolist()}
    assert (counter_clockwise(ground.east, ground.north, mine) == mine).all()


def test_corner_of_a_line_is_the_shot_when_it_stands_there() -> None:
    """A place 4 mm from a shot takes its level and adds no corner."""
    ground = triangulate_shots(
        ridge(), breaklines=[Breakline("ridge", *np.array([[0, 0.004, np.nan], [0, 10, np.nan]]).T)]
    )
    assert len(ground.level) == 4
    assert ground.kept.tolist() == [[0, 1]]


def test_line_brings_corners_of_its_own_when_it_has_levels() -> None:
    """Corners with levels join the ground behind the shots, which stay countable."""
    shots = shots_of([-5, 5, 5, -5], [0, 0, 10, 10], [0.0] * 4)
    ground = triangulate_shots(shots, breaklines=[line("crest", (0, 2, 1.0), (0, 8, 1.0))])
    assert ground.shot_count == 4
    assert ground.names[4:] == ("crest 1", "crest 2")
    assert ground.level_at(np.array([[0, 5]])) == pytest.approx([1.0], abs=1e-12)


def test_level_between_is_taken_when_an_inner_place_has_none() -> None:
    """A place a quarter along from level 0 to level 4 gets level 1, and that is said."""
    shots = shots_of([-5, 5, 5, -5], [0, 0, 12, 12], [0.0] * 4)
    ground = triangulate_shots(shots, breaklines=[line("drive", (0, 2, 0.0), (0, 4, np.nan), (0, 10, 4.0))])
    assert ground.level_at(np.array([[0, 4]])) == pytest.approx([1.0], abs=1e-12)
    assert "1 place of breakline drive (site.toml line 9) without a level takes" in ground.notices[-1]


def test_line_without_levels_is_refused_with_what_to_do() -> None:
    """Ends without a level and away from every shot are named with their place."""
    with pytest.raises(GroundError, match=r"breakline kerb \(site.toml line 9\) has no level at its ends east 1.000 m"):
        triangulate_shots(ridge(), breaklines=[line("kerb", (1, 4, np.nan), (1, 6, np.nan))])


def test_lines_that_cross_at_different_levels_are_both_named() -> None:
    """R1 to R2 is at level 2 where W to E is at level 0: both lines, the place and both levels are told."""
    with pytest.raises(GroundError) as caught:
        triangulate_shots(ridge(), breaklines=[("R1", "R2"), ("W", "E")])
    said = str(caught.value)
    assert "R1 to R2 (lawn.csv line 2) crosses the breakline W to E (lawn.csv line 4)" in said
    assert "east 0.000 m, north 5.000 m, one at level 2.000 m and the other at 0.000 m, 2.000 m apart" in said
    assert "take a shot at the crossing" in said


def test_all_crossings_are_told_at_once() -> None:
    """Three lines that cross one another make three faults, the second from one call."""
    lines = [
        line("a", (-4, 1, 0.0), (4, 1, 0.0)),
        line("b", (-1, 0, 1.0), (-1, 9, 1.0)),
        line("c", (1, 0, 2.0), (1, 9, 2.0)),
    ]
    with pytest.raises(GroundError) as caught:
        triangulate_shots(shots_of([-5, 5, 5, -5], [-1, -1, 10, 10], [0.0] * 4), breaklines=lines)
    assert len(str(caught.value).splitlines()) == 2


def test_lines_may_cross_where_their_levels_agree() -> None:
    """Two lines of one level get a common corner, and it is said."""
    lines = [line("a", (-4, 5, 1.0), (4, 5, 3.0)), line("b", (0, 1, 0.0), (0, 9, 4.0))]
    ground = triangulate_shots(shots_of([-5, 5, 5, -5], [0, 0, 10, 10], [0.0] * 4), breaklines=lines)
    assert ground.level_at(np.array([[0, 5], [2, 5], [0, 3]])) == pytest.approx([2.0, 2.5, 1.0], abs=1e-12)
    assert "both have level 2.000 m" in ground.notices[-1]


def test_line_passes_through_a_shot_that_stands_on_it() -> None:
    """A shot 3 mm off the line is a corner of it; one 30 mm off is not."""
    shots = shots_of([0, 0, 0.003, 0.03, -5, 5], [0, 10, 4, 7, 5, 5], [2.0, 2.0, 2.1, 1.9, 0, 0])
    ground = triangulate_shots(shots, breaklines=[("S1", "S2")])
    assert ground.kept.tolist() == [[0, 2], [1, 2]]


def test_names_that_are_not_there_are_all_told() -> None:
    """A breakline through shots that are missing names each."""
    with pytest.raises(GroundError, match=r"'R3'.*no shot is called that(.|\n)*'R4'"):
        triangulate_shots(ridge(), breaklines=[("R1", "R3", "R4")])


def test_level_of_a_line_is_compared_with_the_shot_at_its_place() -> None:
    """A corner 0.5 m above the shot at the same place is a fault that names both."""
    with pytest.raises(
        GroundError, match=r"R1 \(lawn.csv line 2\) and crest 1 \(site.toml line 9\) are the same place"
    ):
        triangulate_shots(ridge(), breaklines=[line("crest", (0, 0, 2.5), (0, 10, 2.0))])


def test_wild_level_of_a_line_is_refused_as_that_of_a_shot() -> None:
    """A breakline's corner typed a hundred metres too high is told like a shot."""
    ground = scattered(60, lambda east, north: 50 + 0.01 * east + 0.0 * north)
    shots = shots_of(ground.east + ground.origin[0], ground.north + ground.origin[1], ground.level)
    with pytest.raises(GroundError, match=r"crest 2 \(site.toml line 9\) has level 150.000 m"):
        triangulate_shots(shots, breaklines=[line("crest", (5, 5, 50.05), (9, 12, 150.0), (9, 20, 50.09))])


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e200])
def test_no_place_that_is_not_a_number_reaches_the_library(bad: float) -> None:
    """The library of triangulation has been seen to eat all memory on them."""
    with pytest.raises(GroundError, match="no distance in a yard"):
        constrained_triangles(np.array([0, 1, bad]), np.array([0.0, 0, 1]), np.array([[0, 1]], dtype=np.int32))


def test_side_of_no_place_is_refused() -> None:
    """A side must join two places that are there."""
    with pytest.raises(IndexError):
        constrained_triangles(np.array([0.0, 1, 0]), np.array([0.0, 0, 1]), np.array([[0, 3]], dtype=np.int32))


def test_drawn_corners_are_no_shots_when_the_ground_is_smoothed() -> None:
    """The process takes the shots alone, in the order of the corners, and is compared at them alone."""
    ground = scattered(40, rough())
    places = np.column_stack([ground.east, ground.north]) + ground.origin
    shots = shots_of(*places.T, ground.level)
    drawn = triangulate_shots(shots, breaklines=[line("crest", (5, 5, 52.0), (9, 12, 52.0), (9, 20, 52.0))])
    assert len(drawn.level) > 40
    standing = ground_shots(drawn, shots)
    assert standing.point == drawn.names[:40]
    assert standing.level == pytest.approx(shots.level)
    assert compare_surfaces(drawn, fit_process(standing)).count > 20


def test_three_lines_through_one_place_meet_in_one_corner() -> None:
    """Each two of them cross there: one corner more, not three."""
    shots = shots_of([-5, 5, 5, -5], [-5, -5, 5, 5], [1.0] * 4)
    lines = [line("a", (-4, 0, 1), (4, 0, 1)), line("b", (0, -4, 1), (0, 4, 1)), line("c", (-3, -3, 1), (3, 3, 1))]
    ground = triangulate_shots(shots, breaklines=lines)
    assert len(ground.level) == 4 + 6 + 1
    assert len(ground.kept) == 6


def test_lines_along_one_another_are_one() -> None:
    """A side given twice and crossed once makes one crossing."""
    shots = shots_of([-5, 5, 5, -5, 0, 0], [-5, -5, 5, 5, -4, 4], [1.0] * 6)
    lines = [("S5", "S6"), ("S6", "S5"), line("a", (-4, 0, 1), (4, 0, 1))]
    ground = triangulate_shots(shots, breaklines=lines)
    assert len(ground.level) == 6 + 2 + 1
    assert len(ground.kept) == 4
