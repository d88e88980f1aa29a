"""A pad with banks: its soil is carried, its doubt worked out, its slopes turfed; its cautions are those of slopes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from grounds import rough, scattered
from spadework.build.cautions import DigFacts, cautions_for
from spadework.confidence import assess, study_ground
from spadework.confidence.nodes import bank_nodes
from spadework.confidence.volumes import cut_fill_of
from spadework.earthwork import banked_earthwork, earthwork
from spadework.earthwork.bank_shape import bank_elements
from spadework.factors import soil_factors
from spadework.ground import triangulate_shots
from spadework.ground.process import fit_process
from spadework.haul import plan_haul
from spadework.haul.heaps import CLEAR_OF_DIGGING
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.pad_shapes import l_shape
from spadework.placement import GOALS, Limits, PositionLimit
from spadework.plan import PlanInputs, make_plan
from spadework.shots import Shots
from spadework.units import LengthUnit

LOAM = soil_factors("loam")
YARD = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 40.0], [0.0, 40.0]])
LAYERS = BuildUp((Layer("clean-stone-20", 0.1),))


def banked(cut: float = 1.0, fill: float = 2.0, strip: float = 0.05, shape: str = "mitred") -> Pad:
    """A pad whose banks run 1 : cut and 1 : fill: a rectangle, or an L that turns inward at a corner."""
    edge = Edge("bank", "", 1 / cut, 1 / fill, "round" if "round" in shape else "mitred")
    if shape.startswith("L"):
        return Pad(l_shape(6.0, 5.0, "C", (3.0, 2.5)), LAYERS, strip, edge)
    return Pad.rectangle(6.0, 4.0, build_up=LAYERS, strip=strip, edge=edge)


SHAPES = ("mitred", "round", "L-mitred", "L-round")


def wavy(count: int = 80, seed: int = 1) -> Shots:
    """Shots of a wavy slope of 24 m by 24 m, each sure to 3 mm."""
    draw = np.random.default_rng(seed)
    places = draw.uniform(0, 24, (count, 2))
    places[:4] = [[0, 0], [24, 0], [24, 24], [0, 24]]
    level = 100 + 0.06 * places[:, 0] + 0.1 * np.sin(places[:, 0] / 2) * np.cos(places[:, 1] / 3)
    names = tuple(f"P{i}" for i in range(count))
    level = level + 0.003 * draw.standard_normal(count)
    files = ("yard.csv",) * count
    return Shots(
        names, places[:, 0], places[:, 1], level, ("",) * count, np.arange(count) + 2, files, np.full(count, 0.003)
    )


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("seed", "raised"), [(1, 0.0), (2, 0.2), (3, -0.2)])
def test_soil_of_banks_is_conserved_through_the_moves(seed: int, raised: float, shape: str) -> None:
    """What is carried away is all the cut, banks included, and what arrives all the fill, to 1e-9."""
    ground, pad = scattered(120, rough(seed, sd=0.1), seed=seed), banked(shape=shape)
    level = earthwork(ground, replace(pad, edge=Edge()), Placement(15.0, 20.0, 30.0, 100.0)).ground_mean
    placement = Placement(15.0, 20.0, 30.0, level + raised)
    whole, banks = banked_earthwork(ground, pad, placement)
    haul = plan_haul(ground, pad, placement, LOAM, Limits(boundary=(YARD,)), banks=banks)
    assert haul.cells.cut.sum() == pytest.approx(whole.cut, abs=1e-9)
    assert haul.cells.fill.sum() == pytest.approx(whole.fill, abs=1e-9)
    dug = sum(move.bank for move in haul.moves if move.start.startswith("the "))
    made_up = sum(move.compacted for move in haul.moves if move.end.startswith("the "))
    assert dug == pytest.approx(whole.cut, rel=1e-8, abs=1e-8)
    assert made_up == pytest.approx(whole.fill, rel=1e-8, abs=1e-8)
    banked_soil = [m for m in haul.moves if "the bank along" in m.start or "the bank along" in m.end]
    assert banked_soil
    assert haul.least_barrow_metres == pytest.approx(haul.barrow_metres, rel=1e-6, abs=1e-6)


def test_heaps_stand_clear_of_the_banks() -> None:
    """Two feet back from where the banks end, not from the pad; the strip is that of all that is disturbed."""
    ground, pad = scattered(120, rough(4), seed=4), banked()
    placement = Placement(15.0, 20.0, 0.0, ground.level_at(np.array([[15.0, 20.0]]))[0] + 0.4)
    _, banks = banked_earthwork(ground, pad, placement)
    haul = plan_haul(ground, pad, placement, LOAM, Limits(boundary=(YARD,)), banks=banks)
    digging = shapely.Polygon(banks.outline)
    assert haul.heaps
    for heap in haul.heaps:
        assert digging.distance(shapely.Point(heap.east, heap.north)) >= heap.radius + CLEAR_OF_DIGGING - 1e-9
    topsoil = next(heap for heap in haul.heaps if heap.name == "topsoil")
    assert topsoil.volume == pytest.approx(digging.area * pad.strip * (1 + LOAM.swell), rel=1e-9)


def test_heights_of_banks_on_level_ground() -> None:
    """Raised by H on level ground the fill bank is H high to the stripped ground, and there is no cut bank."""
    ground = scattered(60, lambda east, north: 100.0 + 0.0 * east + 0.0 * north, seed=5)
    _, banks = banked_earthwork(ground, banked(strip=0.05), Placement(15.0, 20.0, 20.0, 100.5))
    assert banks.fill_height == pytest.approx(100.5 - 0.1 - (100.0 - 0.05), abs=1e-9)
    assert banks.cut_height == 0.0
    assert banks.area == pytest.approx(24.0 + 2 * 10.0 * 2 * 0.45 + 4 * (2 * 0.45) ** 2, rel=1e-6)


@pytest.mark.parametrize("shape", SHAPES)
def test_nodes_of_banks_sum_to_their_volume(shape: str) -> None:
    """On drawn ground the nodes beyond the sides give the volumes of the banks to a per cent or two."""
    shots = wavy()
    ground, pad, placement = triangulate_shots(shots), banked(shape=shape), Placement(12.0, 12.0, 20.0, 100.75)
    _, banks = banked_earthwork(ground, pad, placement)
    elements = len(bank_elements(pad, 1.0, faceted=True))
    places, area, out = bank_nodes(pad, placement, np.full(elements, 3.0))
    plan = shapely.Polygon(pad.outline).buffer(3.0, join_style="round" if "round" in shape else "mitre", mitre_limit=9)
    assert area.sum() == pytest.approx(plan.area - pad.area, rel=0.02)
    level = ground.level_at(places)[None]
    base = placement.formation(pad) + pad.strip
    cut = cut_fill_of(level, area, base + pad.edge.cut_slope * out)[0][0]
    fill = cut_fill_of(level, area, base - pad.edge.fill_slope * out)[1][0]
    assert cut == pytest.approx(banks.cut, rel=0.03, abs=0.005)
    assert fill == pytest.approx(banks.fill, rel=0.03, abs=0.005)


def test_doubt_is_that_of_vertical_sides_when_banks_are_upright() -> None:
    """Banks of a thousand in one are walls: expected volumes and standard deviations are those of the bare pad."""
    shots = wavy()
    ground, placement = triangulate_shots(shots), Placement(12.0, 12.0, 20.0, 100.75)
    upright = banked(0.001, 0.001)
    bare = replace(upright, edge=Edge())
    process = fit_process(shots)
    drawn, banks = banked_earthwork(ground, upright, placement)
    one = assess(process, ground, upright, placement, drawn, keep=0.9, banks=banks)
    other = assess(process, ground, bare, placement, earthwork(ground, bare, placement), keep=0.9)
    for mine, theirs in ((one.cut, other.cut), (one.fill, other.fill)):
        assert mine.expected == pytest.approx(theirs.expected, rel=0.01, abs=0.002)
        assert mine.sd == pytest.approx(theirs.sd, rel=0.1)


def test_doubt_of_banks_is_that_of_drawn_grounds() -> None:
    """Cut and fill of many grounds drawn at other, finer points have the mean and the spread that are said."""
    shots = wavy()
    ground, pad, placement = triangulate_shots(shots), banked(), Placement(12.0, 12.0, 20.0, 100.75)
    process = fit_process(shots)
    drawn, banks = banked_earthwork(ground, pad, placement)
    found = assess(process, ground, pad, placement, drawn, keep=0.9, banks=banks)
    axis = np.arange(-3.9, 4.0, 0.2)
    u, v = (a.ravel() for a in np.meshgrid(axis, axis))
    out = np.maximum(np.maximum(np.abs(u) - 3.0, np.abs(v) - 2.0), 0.0)
    near = out < 1.0
    points = placement.to_site(np.column_stack([u, v])[near])
    cell, base = (axis[1] - axis[0]) ** 2, placement.formation(pad) + pad.strip
    levels = process.samples(points, 600)
    cuts = (np.maximum(levels - base - pad.edge.cut_slope * out[near], 0.0)).sum(axis=1) * cell
    fills = (np.maximum(base - pad.edge.fill_slope * out[near] - levels, 0.0)).sum(axis=1) * cell
    for figure, values in ((found.cut, cuts), (found.fill, fills)):
        # Six hundred grounds and cells of two decimetres.
        assert figure.expected == pytest.approx(values.mean(), rel=0.07)
        assert figure.sd == pytest.approx(values.std(), rel=0.25)
    assert found.finish is not None
    assert 0.0 < found.finish.sd < 0.05


@pytest.mark.parametrize(
    ("cut", "fill", "heights", "expected"),
    [
        (1.5, 2.0, (0.4, 0.5), {"cut-slope"}),
        (2.0, 2.0, (0.4, 0.5), set()),
        (0.75, 2.0, (0.4, 0.0), {"cut-slope"}),
        (2.0, 1.25, (0.0, 0.5), {"fill-slope"}),
        (2.0, 1.25, (0.0, 0.05), set()),
        (2.0, 2.0, (2.2, 0.0), {"bank-height"}),
    ],
)
def test_cautions_of_banks(cut: float, fill: float, heights: tuple[float, float], expected: set[str]) -> None:
    """Steeper than 1 in 2 the turf, steeper than 1 in 1 in cut and 1 in 1.5 in fill the bank, from 2 m its height.

    Keller & Sherar, Low-Volume Roads Engineering (2003), Table 11.1 (from memory). No edge stands exposed.
    """
    facts = DigFacts(0.5, 0.0, cut_height=heights[0], fill_height=heights[1])
    raised = {caution.name: caution for caution in cautions_for(banked(cut, fill), facts, LengthUnit.METRE)}
    assert {name for name in raised if "slope" in name or "bank" in name} == expected
    assert "edge-height" not in raised
    for name in expected:
        assert "Table 11.1" in raised[name].source
    steep = cut < 1.0 or fill < 1.5
    for name in expected - {"bank-height"}:
        assert ("steeper than such soil is trusted" in raised[name].text) == steep


@pytest.mark.parametrize("shape", ["mitred", "L-round"])
def test_plan_of_a_pad_with_banks_is_whole(shape: str) -> None:
    """Moves, doubt, turf and the step that trims the slopes are there, from the plan's own numbers."""
    shots = wavy()
    ground, pad = triangulate_shots(shots), banked(shape=shape)
    inputs = PlanInputs(
        "terrace",
        "2026-05-02",
        LengthUnit.METRE,
        ground,
        pad,
        Limits(position=PositionLimit(12.0, 12.0)),
        GOALS["digging"],
        LOAM,
        shots=shots,
        study=study_ground(ground, shots),
    )
    plan = make_plan(inputs)
    assert plan.banks is not None
    assert plan.haul is not None
    assert plan.confidence is not None
    assert plan.confidence.cut.drawn == plan.earthwork.cut
    assert plan.build is not None
    (turf,) = [line for line in plan.build.materials if line.key == "turf"]
    slopes = plan.banks.cut_area + plan.banks.fill_area
    assert turf.quantity == math.ceil(slopes * 1.05)
    assert turf.unit == "m2"
    (step,) = [step for step in plan.build.steps if step.title == "Trim and turf the banks"]
    assert "1 up in 1 along" in step.text
    assert "1 up in 2 along" in step.text
    names = {caution.name for caution in plan.cautions}
    assert "edge-height" not in names
    assert "cut-slope" in names
