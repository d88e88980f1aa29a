"""Shots whose level is far off their neighbours."""

import numpy as np
import pytest

from grounds import shots_of
from spadework.errors import GroundError
from spadework.ground import triangulate_shots
from spadework.readings import FloatArray


def yard(count: int = 120, seed: int = 1) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A lawn of 30 m by 40 m on a slope of 5 in 100, levels good to 20 mm."""
    random = np.random.default_rng(seed)
    east, north = random.uniform(0, 30, count), random.uniform(0, 40, count)
    return east, north, 100 + 0.05 * east + random.normal(0, 0.02, count)


@pytest.mark.parametrize("off", [50.0, -50.0, 10.0])
@pytest.mark.parametrize("row", [0, 17, 63])
def test_a_shot_far_off_is_named_with_its_line_and_what_its_neighbours_say(off: float, row: int) -> None:
    """The message has name, line, level, the distance, the plane's level and the two ways out."""
    east, north, level = yard()
    expected = 100 + 0.05 * east[row]
    level[row] += off
    with pytest.raises(GroundError) as caught:
        triangulate_shots(shots_of(east, north, level))
    first, remedy = str(caught.value).splitlines()
    assert first.startswith(f"S{row + 1} (lawn.csv line {row + 2}) has level {level[row]:.3f} m, ")
    assert ("above" if off > 0 else "below") + " the plane of its neighbours" in first
    said = float(first.split("neighbours (")[1].split(" m")[0])
    assert said == pytest.approx(expected, abs=0.1)
    assert "accept = " in remedy


def test_every_shot_far_off_is_named_in_one_go() -> None:
    """Three mistakes, three lines."""
    east, north, level = yard()
    level[[3, 40, 99]] += [50, -30, 12]
    with pytest.raises(GroundError) as caught:
        triangulate_shots(shots_of(east, north, level))
    assert [line.split()[0] for line in str(caught.value).splitlines()[:-1]] == ["S4", "S41", "S100"]


def test_two_bad_neighbours_do_not_hide_each_other() -> None:
    """The two shots nearest to one another are both 50 m off, and both are named."""
    east, north, level = yard()
    apart = np.hypot(east[:, None] - east, north[:, None] - north) + 1e9 * np.eye(len(east))
    pair = np.unravel_index(apart.argmin(), apart.shape)
    level[list(pair)] += 50
    with pytest.raises(GroundError) as caught:
        triangulate_shots(shots_of(east, north, level))
    assert {line.split()[0] for line in str(caught.value).splitlines()[:-1]} == {f"S{row + 1}" for row in pair}


def test_a_shot_far_off_is_taken_when_accepted_by_name() -> None:
    """The name is compared without regard to case, and the ground says that it was accepted."""
    east, north, level = yard()
    level[17] += 50
    ground = triangulate_shots(shots_of(east, north, level), accept_outliers=["s18"])
    assert ground.level[17] == level[17]
    assert any(notice.startswith("S18") and "accepted as it is" in notice for notice in ground.notices)


def test_good_levels_raise_no_notice() -> None:
    """A lawn with ordinary scatter is passed without a word."""
    for seed in range(5):
        assert triangulate_shots(shots_of(*yard(seed=seed))).notices == ()


@pytest.mark.parametrize("rise", [2.0, 4.0, 8.0])
def test_a_steep_bank_is_not_refused(rise: float) -> None:
    """A bank up to 8 m high, at 1 in 1 between rows of shots, stays as it is."""
    random = np.random.default_rng(8)
    east, north = random.uniform(0, 30, 150), random.uniform(0, 40, 150)
    east = np.concatenate([east[np.abs(east - 15) > rise / 2], np.full(20, 15 - rise / 2), np.full(20, 15 + rise / 2)])
    north = np.concatenate([north[: len(east) - 40], np.linspace(0, 40, 20), np.linspace(0, 40, 20)])
    level = 20 + np.clip(east - 15 + rise / 2, 0, rise) + random.normal(0, 0.02, len(east))
    assert triangulate_shots(shots_of(east, north, level)).triangle_count > 200


def test_a_retaining_wall_is_not_refused() -> None:
    """A terrace 3.5 m above the lawn, its wall shot at top and foot 0.1 m apart, stays as it is."""
    random = np.random.default_rng(9)
    east = np.concatenate(
        [random.uniform(0, 14, 60), random.uniform(16, 30, 60), np.full(15, 14.95), np.full(15, 15.05)]
    )
    north = np.concatenate([random.uniform(0, 40, 120), np.linspace(0, 40, 15), np.linspace(0, 40, 15)])
    level = np.where(east > 15, 23.5, 20.0)
    assert triangulate_shots(shots_of(east, north, level)).triangle_count > 200


def test_a_mound_of_several_shots_is_not_refused() -> None:
    """Five shots on a heap 4 m high are a heap."""
    east, north, level = yard()
    east, north = np.append(east, [15, 14, 16, 15, 15]), np.append(north, [20, 20, 20, 19, 21])
    level = np.append(level, [104.9, 104.6, 104.6, 104.6, 104.6])
    assert len(triangulate_shots(shots_of(east, north, level)).level) == 125


def test_a_misbooked_shot_of_a_levelled_grid_is_mentioned() -> None:
    """A corner shot 0.7 m below its neighbours may be ground, but is worth another look.

    Levels: student lab sheet "Higher Surveying Lab FW-8 Data and Results" (scribd 202313858), 36 points, 10 m squares,
    as printed; the layout was worked out from its diagram. Point 15 repeats the next backsight as its reading.
    """
    printed = [
        *(40.14, 40.025, 39.87, 40.05, 40.09, 39.77, 40.02, 40.12, 40.165, 40.32, 40.04, 40.11),
        *(40.24, 40.30, 39.495, 40.385, 40.305, 40.255, 40.205, 40.115, 40.185, 40.225, 40.305, 40.365),
        *(40.075, 40.135, 40.245, 40.365, 40.145, 40.18, 40.265, 40.345, 40.195, 40.195, 40.25, 40.355),
    ]
    layout = [
        [6, 3, 1, 2, 4, 5],
        [11, 7, 33, 34, 35, 36],
        [12, 8, 29, 30, 31, 32],
        [13, 9, 25, 26, 27, 28],
        [14, 10, 21, 22, 23, 24],
        [15, 20, 19, 18, 17, 16],
    ]
    order = [point for line in layout for point in line]
    shots = shots_of(
        [10.0 * (i % 6) for i in range(36)],
        [-10.0 * (i // 6) for i in range(36)],
        [printed[point - 1] for point in order],
        names=[str(point) for point in order],
    )
    notices = triangulate_shots(shots).notices
    assert any(notice.startswith("15 (") and "look at it again" in notice for notice in notices)


def test_three_shots_are_taken_as_they_are() -> None:
    """With three shots nothing can be said about any of them."""
    assert triangulate_shots(shots_of([0, 5, 0], [0, 0, 5], [0, 0, 40])).notices == ()


def test_one_of_five_shots_is_named_when_it_is_far_off() -> None:
    """Few shots are enough if the fault is large."""
    with pytest.raises(GroundError, match=r"^S5 \(lawn.csv line 6\)"):
        triangulate_shots(shots_of([0, 10, 10, 0, 5], [0, 0, 10, 10, 5], [1, 1.1, 1.2, 1.1, 51.1]))
