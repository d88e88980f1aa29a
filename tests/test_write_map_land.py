"""The land on a map: contours where the ground has their level, and surfaces with their holes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from sample_plan import sample_plan
from spadework.ground import Ground
from spadework.placement.limits import KeepOut, ReachLimit
from spadework.write.drawing import yard_page
from spadework.write.map_frame import Extent, contour_interval, yard_extent
from spadework.write.map_land import patch_of, shown_contours
from spadework.write.map_pad import PAD_LOOKS


def tilted_ground() -> Ground:
    """A plane that rises 0.1 to the metre eastwards, level 100 at the origin, 40 m by 40 m in small squares."""
    side = np.arange(-20.0, 20.1, 2.0)
    east, north = (axis.ravel() for axis in np.meshgrid(side, side))
    count = len(side)
    first = (np.arange(count - 1)[:, np.newaxis] * count + np.arange(count - 1)).ravel()
    triangles = np.vstack(
        [
            np.column_stack([first, first + 1, first + count + 1]),
            np.column_stack([first, first + count + 1, first + count]),
        ]
    )
    return Ground(
        origin=np.zeros(2),
        east=east,
        north=north,
        level=100 + 0.1 * east,
        triangles=triangles.astype(np.int32),
        kind="raster",
    )


def test_shown_contours_stand_where_a_plane_has_their_level() -> None:
    """On the tilted plane the contour of level L is the straight line at east (L - 100) / 0.1, as long as the map."""
    plan = sample_plan(ground=tilted_ground())
    extent = Extent(-5.0, -6.0, 5.0, 6.0)
    contours = shown_contours(plan, extent, 0.001)
    assert sorted(round(level, 9) for level, _ in contours) == pytest.approx(np.arange(99.5, 100.51, 0.1))
    for level, line in contours:
        assert np.allclose(line[:, 0], (level - 100) / 0.1, atol=0.002)
        assert [line[:, 1].min(), line[:, 1].max()] == pytest.approx([-6.0, 6.0])


def test_shown_contours_lie_on_the_ground_when_it_is_rough() -> None:
    """Every bend of every contour has its level on the ground, but for the bends left out."""
    plan = sample_plan()
    contours = shown_contours(plan, yard_extent(plan), 1e-6)
    assert len(contours) >= 6
    for level, line in contours:
        found = plan.ground.level_at(line)
        assert np.allclose(found[np.isfinite(found)], level, atol=1e-4)
        assert np.isfinite(found).mean() > 0.5


def test_shown_contours_are_the_same_when_only_the_near_ground_is_followed() -> None:
    """A map of a part of the yard shows there what a map of the whole does."""
    plan = sample_plan()
    part = Extent(10.0, 6.0, 16.0, 12.0)
    near = shapely.union_all([shapely.LineString(line) for _, line in shown_contours(plan, part, 1e-9)])
    interval = contour_interval(plan, part)
    frame = shapely.box(part.west, part.south, part.east, part.north)
    whole = shapely.union_all([shapely.LineString(line) for _, line in plan.ground.contours(interval)])
    assert near.length == pytest.approx(shapely.intersection(whole, frame).length, rel=1e-6)


def test_shown_contours_are_none_when_the_ground_is_level() -> None:
    """Level ground has no contours to show."""
    plan = sample_plan()
    level = replace(plan.ground, level=np.full(len(plan.ground.level), 100.0))
    assert shown_contours(replace(plan, ground=level), yard_extent(plan), 0.01) == []


def test_patch_of_keeps_holes_open() -> None:
    """Drawn, a ring is dark and its hole is not, whichever way round the two run; nothing makes an empty path."""
    outer, inner = (np.array(shapely.Point(0, 0).buffer(radius).exterior.coords) for radius in (5, 2))
    for hole in (inner, inner[::-1]):
        figure = Figure(figsize=(1, 1), dpi=100)
        canvas = FigureCanvasAgg(figure)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        axes.set_xlim(-5, 5)
        axes.set_ylim(-5, 5)
        axes.add_patch(PathPatch(patch_of(shapely.Polygon(outer, [hole])), facecolor="black"))
        canvas.draw()
        red = np.asarray(canvas.buffer_rgba())[:, :, 0]
        assert red[50, 85] == 0
        assert red[50, 50] == 255
    assert len(patch_of(shapely.MultiPolygon()).vertices) == 0


def test_points_to_reach_and_the_front_are_drawn_and_explained() -> None:
    """The page explains the reach, the point and the front, and the front lies on its side of the pad."""
    plan = sample_plan()
    reach = ReachLimit("hose", 5.0, 5.0, 9.0)
    limits = replace(plan.limits, reaches=(reach,), keep_outs=(KeepOut.line("drain", np.array([[1, 1], [9, 2]]), 0.5),))
    plan = replace(plan, limits=limits, pad=replace(plan.pad, front="CB"))
    figure = yard_page(plan)
    words = {text.get_text() for text in figure.legends[0].get_texts()}
    assert {"reach of a point", "point to reach or face", "front", "keep-out"} <= words
    drawn = {text.get_text() for axes in figure.axes for text in axes.texts}
    assert {"hose", "drain"} <= drawn
    corners = plan.search.best.placement.corners(plan.pad)
    wide = [line for line in figure.axes[0].lines if line.get_linewidth() == PAD_LOOKS["front"]["linewidth"]]
    assert len(wide) == 1
    assert np.sort(wide[0].get_xydata(), axis=0) == pytest.approx(np.sort(corners[1:3], axis=0))
    assert "front" not in {text.get_text() for text in yard_page(sample_plan()).legends[0].get_texts()}
