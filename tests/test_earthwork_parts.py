"""The outline of a pad as convex parts."""

import numpy as np
import pytest

from spadework.earthwork.parts import MOST_SIDES, convex_parts
from spadework.errors import PlacementError
from spadework.pad import Pad
from spadework.readings import FloatArray


def areas(outline: FloatArray) -> tuple[float, int]:
    """Area by the half planes, from many points at random, and the number of parts."""
    parts = convex_parts(outline)
    u, v = np.random.default_rng(1).uniform(outline.min(0), outline.max(0), (200_000, 2)).T
    inside = np.zeros(u.shape, dtype=int)
    for first, last in zip(parts.part[:-1], parts.part[1:], strict=True):
        inside += np.all([a * u + b * v <= c for a, b, c in parts.sides[first:last]], axis=0)
    assert inside.max() == 1, "parts overlap"
    return float(inside.mean() * np.prod(np.ptp(outline, axis=0))), len(parts.part) - 1


L_SHAPE = np.array([[0, 0], [6, 0], [6, 2], [2, 2], [2, 5], [0, 5]], dtype=np.float64)
STAR = np.array([[np.cos(k * np.pi / 5), np.sin(k * np.pi / 5)] for k in range(10)]) * np.tile([3, 1], 5)[:, None]


@pytest.mark.parametrize("outline", [L_SHAPE, L_SHAPE[::-1], STAR], ids=["L", "L the other way", "star"])
def test_parts_of_a_bent_outline_fill_it_without_overlap(outline: FloatArray) -> None:
    """Points lie in one part exactly where they lie in the outline."""
    area, count = areas(outline)
    parts = convex_parts(outline)
    assert area == pytest.approx(parts.area, rel=0.01)
    assert count <= len(outline) - 2
    for first, last in zip(parts.part[:-1], parts.part[1:], strict=True):
        ring = parts.corners[first:last]
        along = np.roll(ring, -1, axis=0) - ring
        after = np.roll(along, -1, axis=0)
        assert (along[:, 0] * after[:, 1] - along[:, 1] * after[:, 0] > 0).all(), "a part is not convex"
    assert int(parts.outer.sum()) == len(outline)


def test_a_rectangle_is_one_part_with_its_own_sides() -> None:
    """Four half planes at half the length and half the width from the middle, all of them edge."""
    parts = convex_parts(Pad.rectangle(6, 4).outline)
    assert len(parts.part) == 2
    assert sorted(parts.sides[:, 2].tolist()) == pytest.approx([2, 2, 3, 3])
    assert parts.outer.tolist() == [1, 1, 1, 1]
    assert parts.area == pytest.approx(24)
    assert parts.reach == pytest.approx(np.hypot(3, 2))


def test_corners_on_a_straight_side_and_repeated_corners_are_no_sides() -> None:
    """They change nothing."""
    outline = np.array([[0, 0], [2, 0], [2, 0], [4, 0], [4, 3], [0, 3], [0, 1]], dtype=np.float64)
    parts = convex_parts(outline)
    assert len(parts.sides) == 4
    assert parts.area == pytest.approx(12)


def test_a_round_pad_of_many_sides_is_cut_into_parts() -> None:
    """More sides than a part may have still add up to the area of the polygon."""
    count = MOST_SIDES + 20
    angle = np.arange(count) * 2 * np.pi / count
    parts = convex_parts(np.stack([3 * np.cos(angle), 3 * np.sin(angle)], axis=1))
    assert np.diff(parts.part).max() <= MOST_SIDES
    assert int(parts.outer.sum()) == count
    assert parts.area == pytest.approx(count / 2 * 9 * np.sin(2 * np.pi / count))


@pytest.mark.parametrize(
    "outline",
    [
        np.array([[0, 0], [4, 0], [0, 3], [4, 3]], dtype=np.float64),
        np.array([[0, 0], [4, 0], [8, 0]], dtype=np.float64),
        np.array([[0, 0], [4, 0]], dtype=np.float64),
        np.array([[0, 0], [4, 0], [4, np.nan]], dtype=np.float64),
        np.array([[np.cos(k * 0.8 * np.pi), np.sin(k * 0.8 * np.pi)] for k in range(5)]),
    ],
    ids=["bow tie", "line", "two corners", "not a number", "pentagram"],
)
def test_an_outline_that_is_none_is_refused(outline: FloatArray) -> None:
    """Without area, or crossing itself: the corners are shown."""
    with pytest.raises(PlacementError, match="outline of the pad"):
        convex_parts(outline)


def test_an_l_is_two_parts_and_a_plus_is_few() -> None:
    """Triangles are joined again while they stay convex."""
    corners = [[1, 0], [2, 0], [2, 1], [3, 1], [3, 2], [2, 2], [2, 3], [1, 3], [1, 2], [0, 2], [0, 1], [1, 1]]
    plus = np.array(corners, dtype=np.float64)
    assert len(convex_parts(L_SHAPE).part) - 1 == 2
    assert len(convex_parts(plus).part) - 1 < 10, "fewer than its triangles"
    assert convex_parts(plus).area == pytest.approx(5.0)


@pytest.mark.parametrize("seed", range(8))
def test_parts_of_a_random_outline_fill_it(seed: int) -> None:
    """Their areas add up to that of the outline, and their sides on it to its own."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 13))
    ring = rng.uniform(1.0, 5.0, 13)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    parts = convex_parts(ring)
    total = 0.0
    for first, last in zip(parts.part[:-1], parts.part[1:], strict=True):
        u, v = parts.corners[first:last].T
        total += 0.5 * float(np.dot(u, np.roll(v, -1)) - np.dot(v, np.roll(u, -1)))
    assert total == pytest.approx(parts.area)
    assert int(parts.outer.sum()) == 13
    assert len(parts.part) - 1 < 11
