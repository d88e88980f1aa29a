"""Sections and the depth map: heights by closed form, every number there, and no label on top of another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from sample_plan import sample_plan
from spadework.pad import Pad
from spadework.plan import Plan
from spadework.stakeout import depth_mark, stake_out
from spadework.units import LengthUnit, format_length
from spadework.write.canvas import svg_bytes
from spadework.write.depth_map import depth_page
from spadework.write.labels import extent, overlap
from spadework.write.section_drawing import sections_page
from spadework.write.section_lines import section_lines


def bent(plan: Plan) -> Plan:
    """The plan with an L-shaped pad."""
    pad = Pad(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, 2.0], [0.0, 2.0]]))
    return replace(plan, pad=pad, stakeout=stake_out(plan.ground, pad, plan.search.best.placement))


def test_section_lines_run_along_the_middles_and_then_round_the_edges() -> None:
    """Two through the middle, then each edge, as long as the pad's sides."""
    found = section_lines(sample_plan())
    assert [section.title for section in found] == [
        "Along the middle",
        "Across the middle",
        "Edge AB",
        "Edge BC",
        "Edge CD",
        "Edge DA",
    ]
    assert [section.length for section in found] == pytest.approx([5.4, 3.6, 5.4, 3.6, 5.4, 3.6])


def test_section_ground_is_the_ground_at_each_point() -> None:
    """On an edge the ground at both ends is that of its stakes; along the middle it is the surface itself."""
    plan = sample_plan()
    sections = {section.title: section for section in section_lines(plan)}
    levels = {stake.name: stake.ground_level for stake in plan.stakeout.stakes}
    for name, (one, other) in {"Edge AB": "AB", "Edge CD": "CD"}.items():
        section = sections[name]
        ends = np.interp([0.0, section.length], section.distance, section.ground)
        assert ends == pytest.approx([levels[one], levels[other]], abs=1e-9)
    middle = sections["Along the middle"]
    places = np.column_stack([middle.distance - 2.7, np.zeros(len(middle.distance))])
    site = plan.search.best.placement.to_site(places)
    assert middle.ground == pytest.approx(plan.ground.level_at(site), nan_ok=True)


def test_section_knows_where_it_leaves_a_bent_pad() -> None:
    """Across the middle of an L, at u = 1: on the pad along all of its 2 m; the edge DE only runs for a metre."""
    plan = bent(sample_plan())
    sections = {section.title: section for section in section_lines(plan)}
    along = sections["Along the middle"]  # v = 1, u from 0 to 2: on the pad, along its inner edge
    on = along.on_pad
    assert along.distance[on].min() == pytest.approx(0.0, abs=1e-9)
    assert not on[along.distance > 2.0 + 1e-6].any()
    assert sections["Edge DE"].length == pytest.approx(1.0)


@pytest.mark.parametrize("unit", list(LengthUnit))
@pytest.mark.parametrize("make", [sections_page, depth_page])
@pytest.mark.parametrize("shape", [lambda plan: plan, bent], ids=["rectangle", "bent"])
def test_no_label_lies_on_another(make: object, unit: LengthUnit, shape: object) -> None:
    """Every two texts of one drawing keep apart."""
    plan = shape(sample_plan(unit))  # type: ignore[operator]
    figure: Figure = make(plan)  # type: ignore[operator]
    canvas = FigureCanvasAgg(figure)
    renderer = canvas.get_renderer()
    for axes in figure.axes:
        boxes = [(text.get_text(), extent(text, renderer)) for text in axes.texts if text.get_text()]
        for i, (one, box) in enumerate(boxes):
            for other, second in boxes[i + 1 :]:
                assert not overlap(box, second), (one, other)


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_depth_map_writes_the_number_at_each_point(unit: LengthUnit) -> None:
    """Every mark of the depth grid stands on the map as text, or is counted as left out."""
    plan = sample_plan(unit)
    figure = depth_page(plan)
    words = [text.get_text() for text in figure.axes[0].texts]
    depths = plan.stakeout.grid.depth
    expected = [depth_mark(float(depth), unit) for depth in depths[np.isfinite(depths)].ravel()]
    said = " ".join(text.get_text() for text in figure.texts)
    left_out = len(expected) - sum(word in set(expected) for word in words)
    assert left_out <= 2
    assert (f"{left_out} numbers found no room" in said) == (left_out > 0)
    assert b"C " in svg_bytes(figure, "depth-map")


def test_sections_state_levels_and_how_heights_are_stretched() -> None:
    """Finish and formation on each section, and the factor in each title."""
    plan = sample_plan()
    figure = sections_page(plan)
    for axes in figure.axes:
        words = [text.get_text() for text in axes.texts]
        assert format_length(100.02, LengthUnit.METRE) in words
        assert format_length(99.92, LengthUnit.METRE) in words
        (across, up) = (float(np.ptp(limits)) for limits in (axes.get_xlim(), axes.get_ylim()))
        stretch = (axes.bbox.height / up) / (axes.bbox.width / across)
        assert axes.get_title(loc="left").endswith(f"heights {stretch:.0f} times")
        assert stretch == pytest.approx(round(stretch), abs=1e-6)


def test_overrides_stand_on_both_drawings() -> None:
    """What was let pass is at the foot of each."""
    plan = sample_plan(overrides=("Misclosure of 31 mm let pass.",))
    for make in (sections_page, depth_page):
        assert b"Misclosure of 31 mm let pass." in svg_bytes(make(plan), "page")
