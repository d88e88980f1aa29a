"""Labels on a map: none over another, none over a mark, none outside the frame."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from spadework.write.labels import Labels, along_line, extent, overlap, readable


def empty_map() -> Axes:
    """A map of 20 m by 20 m on a page of 4 in by 4 in."""
    figure = Figure(figsize=(4, 4), dpi=100)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, 20)
    axes.set_ylim(0, 20)
    return axes


def overlapping(labels: Labels) -> list[tuple[str, str]]:
    """Pairs of labels whose boxes on the page share more than an edge."""
    renderer = labels.axes.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    boxes = [(text.get_text(), extent(text, renderer)) for text in labels.placed]
    return [(one, other) for (one, a), (other, b) in combinations(boxes, 2) if overlap(a, b)]


def test_beside_places_every_label_that_must_be_there_when_points_crowd() -> None:
    """Twelve labels of points within a step of each other all stand, and none over another."""
    labels = Labels(empty_map())
    random = np.random.default_rng(3)
    for i in range(12):
        east, north = 10 + random.uniform(-0.5, 0.5, 2)
        assert labels.beside(f"point {i}", east, north, must=True, fontsize=8) is not None
    assert len(labels.placed) == 12
    assert overlapping(labels) == []


def test_beside_leaves_a_label_out_when_there_is_no_room_and_it_need_not_be_there() -> None:
    """Of many labels of one point only those with room stand."""
    labels = Labels(empty_map())
    found = [labels.beside("name", 10, 10, fontsize=8) for _ in range(30)]
    assert 1 <= len(labels.placed) < 30
    assert sum(place is not None for place in found) == len(labels.placed)
    assert overlapping(labels) == []


def test_beside_keeps_clear_of_marks_and_of_the_frame() -> None:
    """No label lies over a mark, and one at the corner of the map turns inwards."""
    axes = empty_map()
    labels = Labels(axes)
    labels.keep_clear(19.8, 19.8, 10.0)
    assert labels.beside("north-east corner", 19.8, 19.8, must=True, fontsize=8) is not None
    renderer = axes.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    box = extent(labels.placed[0], renderer)
    assert box.x1 <= axes.bbox.x1
    assert box.y1 <= axes.bbox.y1
    at = axes.transData.transform((19.8, 19.8))
    assert not (box.x0 < at[0] < box.x1 and box.y0 < at[1] < box.y1)


def test_beside_starts_with_the_side_asked_for() -> None:
    """A label asked for on the left stands on the left."""
    labels = Labels(empty_map())
    place = labels.beside("left", 10, 10, first=180.0, fontsize=8)
    assert place is not None
    assert place[0] < 10
    assert place[1] == pytest.approx(10, abs=0.3)


def test_over_takes_the_first_free_place() -> None:
    """The second label goes to the second place, the third finds none."""
    labels = Labels(empty_map())
    places = [(5.0, 5.0, 0.0), (15.0, 15.0, 90.0)]
    assert labels.over("one", places, fontsize=8)
    assert labels.over("two", places, fontsize=8)
    assert not labels.over("three", places, fontsize=8)
    assert [text.get_position() for text in labels.placed] == [(5.0, 5.0), (15.0, 15.0)]


def test_labels_are_not_taken_for_formulas() -> None:
    """Dollar signs are characters."""
    labels = Labels(empty_map())
    assert labels.beside("$x_1$ & $", 10, 10, fontsize=8) is not None
    assert labels.placed[0].get_parse_math() is False


@pytest.mark.parametrize(
    ("angle", "expected"), [(0, 0), (45, 45), (135, -45), (180, 0), (-170, 10), (270, -90), (90, -90)]
)
def test_readable_turns_writing_the_right_way_up(angle: float, expected: float) -> None:
    """Writing along a line leans no further than upright."""
    assert readable(angle) == pytest.approx(expected)


def test_along_line_walks_a_corner() -> None:
    """A line of 3 east and 4 north: its middle is half a metre up the second leg."""
    places = list(along_line([0, 3, 3], [0, 0, 4], (0.0, 0.5, 1.0)))
    assert places[0] == pytest.approx((0, 0, 0))
    assert places[1] == pytest.approx((3, 0.5, 90))
    assert places[2] == pytest.approx((3, 4, 90))
