"""Banks: frustums in closed form, sums by fine sampling, and where they end."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from grounds import rough, scattered
from spadework.earthwork import banked_earthwork
from spadework.errors import PlacementError
from spadework.ground import Ground
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.plan_soil import bank_notice
from spadework.units import LengthUnit

LENGTH, WIDTH = 6.0, 4.0
ELL = np.array([[-3.0, -3.0], [3.0, -3.0], [3.0, 0.0], [0.0, 0.0], [0.0, 3.0], [-3.0, 3.0]])


def banked(cut: float, fill: float, **more: object) -> Pad:
    """A pad whose banks run 1 : cut and 1 : fill."""
    return Pad.rectangle(LENGTH, WIDTH, edge=Edge("bank", "", 1 / cut, 1 / fill), **more)  # type: ignore[arg-type]


def flat(level: float = 100.0, seed: int = 5) -> Ground:
    """Level ground over a yard."""
    return scattered(60, lambda east, north: level + 0.0 * east + 0.0 * north, seed=seed)


@pytest.mark.parametrize("depth", [0.7, -0.7, 0.05])
@pytest.mark.parametrize("run", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("bearing", [0.0, 33.0, 117.0])
def test_flat_ground_gives_the_frustum(depth: float, run: float, bearing: float) -> None:
    """With mitred corners V = w l H + (w + l) m H² + 4/3 m² H³, over w l + 2 (w + l) m H + 4 (m H)² (calculus)."""
    placement = Placement(15.0, 20.0, bearing, 100.0 - depth)
    volumes, banks = banked_earthwork(flat(), banked(run, run), placement)
    h = abs(depth)
    expected = WIDTH * LENGTH * h + (WIDTH + LENGTH) * run * h**2 + 4 / 3 * run**2 * h**3
    whole, none = (volumes.cut, volumes.fill) if depth > 0 else (volumes.fill, volumes.cut)
    assert whole == pytest.approx(expected, rel=1e-12)
    assert none == pytest.approx(0.0, abs=1e-12)
    footprint = WIDTH * LENGTH + 2 * (WIDTH + LENGTH) * run * h + 4 * (run * h) ** 2
    assert shapely.Polygon(banks.outline).area == pytest.approx(footprint, rel=1e-7)
    slope = (footprint - WIDTH * LENGTH) * math.hypot(1.0, 1.0 / run)
    assert banks.cut_area + banks.fill_area == pytest.approx(slope, rel=1e-6)


def test_stakes_stand_where_the_banks_end() -> None:
    """On level ground the toe is m H out from a side, and √2 as far out at a corner; every level is the ground's."""
    _, banks = banked_earthwork(flat(), banked(1.5, 2.0), Placement(15.0, 20.0, 20.0, 100.6))
    corners = {stake.name: stake for stake in banks.stakes if len(stake.name) == 1}
    sides = [stake for stake in banks.stakes if len(stake.name) > 1]
    assert set(corners) == {"A", "B", "C", "D"}
    assert {stake.name for stake in sides} == {"A-B 1", "A-B 2", "B-C 1", "C-D 1", "C-D 2", "D-A 1"}
    for stake in banks.stakes:
        assert stake.kind == "toe of fill"
        assert stake.level == pytest.approx(100.0)
        assert stake.out == pytest.approx(2.0 * 0.6 * (math.sqrt(2) if len(stake.name) == 1 else 1.0), rel=1e-6)


def sampled(ground: Ground, pad: Pad, placement: Placement, step: float = 0.02) -> tuple[float, float]:
    """Cut and fill, banks included, by summing over a fine grid: the slow and obvious way."""
    axis = np.arange(-7.0 + step / 2, 7.0, step)
    u, v = np.meshgrid(axis, axis, indexing="ij")
    out = np.maximum(np.abs(u) - LENGTH / 2, np.abs(v) - WIDTH / 2)
    frame = np.column_stack([u.ravel(), v.ravel()])
    level = ground.level_at(placement.to_site(frame)).reshape(u.shape) - pad.strip
    formation = placement.formation(pad)
    distance = np.maximum(out, 0.0)
    cut = np.maximum(level - formation - pad.edge.cut_slope * distance, 0.0)
    fill = np.maximum(formation - pad.edge.fill_slope * distance - level, 0.0)
    return float(cut.sum()) * step**2, float(fill.sum()) * step**2


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_volumes_equal_those_summed_over_a_fine_grid(seed: int) -> None:
    """On ground with bends cut and fill come within the error of a 20 mm grid."""
    ground = scattered(60, rough(seed, sd=0.04), seed=seed)
    pad = banked(1.5, 2.0, strip=0.05, build_up=BuildUp((Layer("stone", 0.1),)))
    middle = float(ground.level_at(np.array([[15.0, 20.0]]))[0])
    placement = Placement(15.0, 20.0, 27.0, middle + 0.1)
    volumes, _ = banked_earthwork(ground, pad, placement)
    assert (volumes.cut, volumes.fill) == pytest.approx(sampled(ground, pad, placement), rel=2e-3, abs=2e-3)


@pytest.mark.parametrize(
    ("pad", "ground", "message"),
    [
        (banked(1.5, 2.0), scattered(60, lambda e, n: 100.0 + 0.8 * n + 0.0 * e), "steep|measured ground"),
        (Pad.rectangle(6.0, 4.0, edge=Edge("bank")), flat(), "slopes"),
    ],
    ids=["steep-ground", "no-slope"],
)
def test_banks_are_refused_when_they_cannot_be(pad: Pad, ground: Ground, message: str) -> None:
    """Ground as steep as the banks and missing slopes are refused with what to do."""
    level = float(ground.level_at(np.array([[15.0, 20.0]]))[0])
    with pytest.raises(PlacementError, match=message):
        banked_earthwork(ground, pad, Placement(15.0, 20.0, 0.0, level))


@pytest.mark.parametrize("rounded", [False, True], ids=["mitred", "round"])
def test_banks_of_an_ell_on_level_ground(*, rounded: bool) -> None:
    """The disturbed ground is the pad widened by m H (a geometry library's buffer), the toes stand on its rim.

    In the inward corner the stake stands on the valley of the two banks, √2 m H out; beside it, where straight out of a
    side the other bank is met first, there is none.
    """
    edge = Edge("bank", "", 1 / 1.5, 1 / 2.0, "round" if rounded else "mitred")
    pad, placement = Pad(ELL, edge=edge), Placement(15.0, 20.0, 20.0, 100.6)
    _, banks = banked_earthwork(flat(), pad, placement)
    out = 2.0 * 0.6
    widened = shapely.Polygon(placement.corners(pad)).buffer(
        out, join_style="round" if rounded else "mitre", mitre_limit=9.0, quad_segs=256
    )
    digging = shapely.Polygon(banks.outline)
    assert digging.symmetric_difference(widened).area < (2e-3 if rounded else 1e-6)
    assert banks.cut_height == 0.0
    stakes = {stake.name: stake for stake in banks.stakes}
    for stake in banks.stakes:
        assert digging.exterior.distance(shapely.Point(stake.east, stake.north)) < 1e-3
        corner = len(stake.name) == 1
        inward = stake.name == "D"
        expected = out * (math.sqrt(2) if corner and (inward or not rounded) else 1.0)
        assert stake.out == pytest.approx(expected, rel=1e-4)
    assert ("A-B at A" in stakes) == rounded
    assert "C-D at D" not in stakes
    # The side C-D is 3 m long: its one stake stands 1.5 m from the inward corner, beyond the reach of the other bank.
    assert "C-D 1" in stakes
    deeper = replace(placement, finish=101.0)
    assert "C-D 1" not in {stake.name for stake in banked_earthwork(flat(), pad, deeper)[1].stakes}


def test_areas_of_the_slopes_are_said() -> None:
    """The plan says how much there is to turf, along the slope."""
    _, banks = banked_earthwork(flat(), banked(1.5, 2.0), Placement(15.0, 20.0, 20.0, 100.6))
    words = bank_notice(banks, LengthUnit.METRE)
    assert "0.00 m² of cut slope" in words
    plan_area = 2 * (WIDTH + LENGTH) * 1.2 + 4 * 1.2**2
    assert f"{plan_area * math.hypot(1, 0.5):.2f} m² of fill slope" in words
