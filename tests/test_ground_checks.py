"""What is looked at before shots become ground."""

import numpy as np
import pytest

from grounds import shots_of
from spadework.errors import GroundError
from spadework.ground import check_shots, triangulate_shots

SQUARE = ([0.0, 10.0, 10.0, 0.0], [0.0, 0.0, 10.0, 10.0], [1.0, 1.1, 1.2, 1.1])


def with_more(*extra: tuple[float, float, float]) -> tuple[list[float], list[float], list[float]]:
    """The square and more shots: east, north, level."""
    east, north, level = SQUARE
    return east + [e for e, _, _ in extra], north + [n for _, n, _ in extra], level + [z for _, _, z in extra]


def test_one_is_kept_with_a_word_when_a_place_is_shot_twice_at_one_level() -> None:
    """An exact repeat is no fault."""
    checked = check_shots(shots_of(*with_more((5, 5, 1.1), (5, 5, 1.1))))
    assert checked.point == ("S1", "S2", "S3", "S4", "S5")
    assert checked.notices == ("S5 (lawn.csv line 6) was shot again as S6 (lawn.csv line 7): one is kept.",)


def test_the_mean_is_used_when_two_levels_of_one_place_agree() -> None:
    """A turning point shot from two set-ups, 4 mm apart in level and in plan, is one point."""
    checked = check_shots(shots_of(*with_more((5, 5, 1.100), (5.004, 5, 1.104))))
    assert checked.level[4] == pytest.approx(1.102, abs=1e-12)
    assert "agree to 0.004 m" in checked.notices[0]


def test_all_pairs_are_named_when_places_have_two_levels() -> None:
    """Both shots of each pair with their lines and levels, every pair in one go, and what to do."""
    with pytest.raises(GroundError) as caught:
        check_shots(shots_of(*with_more((5, 5, 1.1), (5.003, 5, 1.4), (2, 2, 1.0), (2, 2, 3.0))))
    lines = str(caught.value).splitlines()
    assert lines[0] == (
        "S5 (lawn.csv line 6) and S6 (lawn.csv line 7) are the same place (3.0 mm apart in plan) but their levels are "
        "1.100 m and 1.400 m, 0.300 m apart."
    )
    assert lines[1].startswith("S7 (lawn.csv line 8) and S8 (lawn.csv line 9) are the same place (exactly)")
    assert "correct the position or the level" in lines[2]


def test_levels_may_differ_more_when_they_are_less_sure() -> None:
    """Two levels 40 mm apart agree if each is only good to 15 mm: 3 √2 15 mm = 64 mm."""
    places = with_more((5, 5, 1.10), (5, 5, 1.14))
    assert check_shots(shots_of(*places, level_sd=0.015)).level[4] == pytest.approx(1.12)
    with pytest.raises(GroundError, match="same place"):
        check_shots(shots_of(*places, level_sd=0.005))


def test_top_and_toe_of_a_wall_are_two_places() -> None:
    """Shots 50 mm apart with 0.8 m between them are a wall, not a fault."""
    assert len(check_shots(shots_of(*with_more((5, 5, 1.1), (5.05, 5, 1.9)))).point) == 6


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_shots_are_refused(count: int) -> None:
    """The message says how many there are and how many it takes."""
    with pytest.raises(GroundError, match=rf"{count} shots? .*at least three"):
        check_shots(shots_of(*(values[:count] for values in SQUARE)))


def test_three_shots_at_two_places_are_too_few() -> None:
    """Places count, not rows."""
    with pytest.raises(GroundError, match=r"2 shots .*different places \(S1 and S2\)"):
        check_shots(shots_of([0, 5, 5], [0, 0, 0], [1, 2, 2]))


@pytest.mark.parametrize("direction", [(1.0, 0.0), (0.0, 1.0), (3.0, 4.0)])
@pytest.mark.parametrize("start", [0.0, 450_000.0])
def test_shots_all_on_one_line_are_refused(direction: tuple[float, float], start: float) -> None:
    """A line in any direction has no area, and a jitter of a few millimetres does not give it one."""
    run = np.arange(12) * 1.0
    jitter = np.random.default_rng(2).uniform(-0.003, 0.003, 12)
    with pytest.raises(GroundError, match=r"one line .*no area"):
        check_shots(shots_of(start + run * direction[0] - jitter, start + run * direction[1] + jitter, run * 0.1))


def test_a_narrow_strip_is_ground() -> None:
    """Two rows 0.3 m apart are narrow, but ground."""
    ground = triangulate_shots(shots_of([0, 5, 10, 0, 5, 10], [0, 0, 0, 0.3, 0.3, 0.3], [0, 1, 2, 0, 1, 2]))
    assert ground.area == pytest.approx(3.0)


def test_rows_that_only_mark_a_place_are_left_out_with_a_word() -> None:
    """A tree without a level and a bench mark without a position are not ground, and that is said."""
    east, north, level = with_more((5, 5, np.nan), (np.nan, np.nan, 1.5))
    checked = check_shots(shots_of(east, north, level))
    assert len(checked.point) == 4
    assert checked.notices == ("S5 and S6 have no level or no position and are not ground.",)


def test_a_level_without_end_is_refused() -> None:
    """Infinity never reaches the triangulation."""
    with pytest.raises(GroundError, match=r"S5 \(lawn.csv line 6\) has a position or level without end"):
        check_shots(shots_of(*with_more((5, 5, np.inf))))
