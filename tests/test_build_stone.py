"""Stone and fabric: volumes inside the edge, orders, lifts, sheets, and the check of what somebody has ordered."""

import math

import numpy as np
import pytest

from spadework.build import BuildOptions, build_plan
from spadework.build.fabric import FabricOrder, fabric_order
from spadework.build.options import FabricOptions, StoneOptions
from spadework.build.stone import layer_orders, lift_depth, lifts_for, ordered_depth
from spadework.earthwork import earthwork, edge_profile, soil_account
from spadework.factors import soil_factors
from spadework.pad import BuildUp, Edge, Layer, Pad, Placement
from spadework.units import LengthUnit
from timber_yard import plane, planned

METRE = LengthUnit.METRE
CUBIC_YARD = 0.9144**3


def pad_of(*layers: tuple[str, float], size: tuple[float, float] = (6.0, 4.1)) -> Pad:
    """A pad of 24.6 m² without a frame."""
    return Pad.rectangle(*size, build_up=BuildUp(tuple(Layer(*layer) for layer in layers)))


def test_ordered_depth_when_too_little_was_ordered() -> None:
    """1.5 m³ over 24.6 m² is 61 mm (1.5 / 24.6 = 0.06098), not the 100 that was thought."""
    assert ordered_depth(1.5, 24.6) == pytest.approx(0.061, abs=0.0005)
    options = StoneOptions(ordered={"clean-stone-20": 1.5})
    _, notices = layer_orders(pad_of(("clean-stone-20", 0.1)), 9.9, None, options, METRE)
    assert len(notices) == 1
    # 61 / 1.1 = 55 mm compacted; 24.6 x 0.1 x 1.1 x 1.05 - 1.5 = 1.34 m³ more.
    assert notices[0] == (
        "1.50 m³ of clean-stone-20 over this area is 61 mm as tipped and about 55 mm once compacted, not 100 mm: "
        "1.34 m³ more is wanted."
    )


@pytest.mark.parametrize(("volume", "words"), [(2.8, "enough for 100 mm"), (4.5, "that is too much")])
def test_order_when_enough_or_too_much(volume: float, words: str) -> None:
    """What was ordered in plenty is called enough, and far too much is said to be so."""
    options = StoneOptions(ordered={"clean-stone-20": volume})
    _, notices = layer_orders(pad_of(("clean-stone-20", 0.1)), 9.9, None, options, METRE)
    assert words in notices[0]


def test_order_when_of_another_material() -> None:
    """An order for which there is no layer is not passed over."""
    options = StoneOptions(ordered={"sand": 1.0})
    _, notices = layer_orders(pad_of(("clean-stone-20", 0.1)), 9.9, None, options, METRE)
    assert notices == ("1.00 m³ of sand is ordered, and no layer of the build-up is of that.",)


def test_layer_order_when_worked_by_hand() -> None:
    """150 mm of graded base on 24.6 m²: 3.69 m³, loose x 1.333 x 1.05 = 5.165; low x 1.2, high x 1.333 x 1.1."""
    orders, notices = layer_orders(pad_of(("crusher-run", 0.15), ("sand", 0.03)), 9.82, None, StoneOptions(), METRE)
    base, sand = orders
    assert base.compacted == pytest.approx(3.69)
    assert (base.loose.low, base.loose.likely, base.loose.high) == pytest.approx(
        (3.69 * 1.2, 3.69 * 1.333 * 1.05, 3.69 * 1.333 * 1.1)
    )
    assert (base.order, base.order_unit) == (5.2, "m3")
    assert base.lifts == 2  # 150 x 1.333 = 200 mm loose, in lifts of 150
    assert sand.compacted == pytest.approx(24.6 * 0.03)
    assert sand.lifts == 1
    assert notices == ()


def test_layer_order_when_the_material_is_unknown() -> None:
    """A material of one's own is ordered like clean stone, which is said, and has no mass."""
    orders, notices = layer_orders(pad_of(("oyster-shell", 0.1)), 9.9, None, StoneOptions(), METRE)
    assert orders[0].factor.likely == 1.10
    assert orders[0].mass is None
    assert "oyster-shell" in notices[0]


@pytest.mark.parametrize(
    ("sold", "expected"),
    [((0.5, "m3"), (3.0, "m3")), ((1.0, "t"), (5.0, "t")), ((0.25, "yd3"), (3.75, "yd3"))],
    ids=["half cubic metres", "tonnes", "quarter yards"],
)
def test_layer_order_when_sold_in_steps(sold: tuple[float, str], expected: tuple[float, str]) -> None:
    """2.841 m³ (24.6 x 0.1 x 1.155) is 3 m³ in halves, 4.73 t in whole tonnes, 3.716 yd³ in quarters."""
    options = StoneOptions(sold_by={"clean-stone-20": sold})
    orders, _ = layer_orders(pad_of(("clean-stone-20", 0.1)), 9.9, None, options, METRE)
    assert (orders[0].order, orders[0].order_unit) == expected
    assert orders[0].mass == pytest.approx(2.8413 * 104 * 0.45359237 / 0.3048**3 / 1000, rel=1e-6)


def test_stone_when_it_lies_under_the_frame() -> None:
    """A frame of one 100 mm course over 150 mm of stone has 50 mm of stone under it, all round."""
    built, pad, _, _ = planned(10.3, 0.0, 0.0, 10.1, depth=0.15, beam="100 x 100")
    inside, under = 4.0 * 2.8 * 0.15, (4.2 * 3.0 - 4.0 * 2.8) * 0.05
    assert built.layers[0].compacted == pytest.approx(inside + under)
    assert pad.area == pytest.approx(12.6)


@pytest.mark.parametrize("across", [0.0, 0.05, 0.12])
@pytest.mark.parametrize("depth", [0.1, 0.18, 0.35])
def test_stone_when_summed_over_the_plan(across: float, depth: float) -> None:
    """The volume is the sum over a grid of columns: the layer inside, and what is below the foot under the frame."""
    built, pad, _, placement = planned(10.25, 0.04, across, 10.1, depth=depth)
    edge = built.edge
    assert edge is not None
    (length, width), steps = pad.sides[:2], 240
    u, v = np.meshgrid((np.arange(steps) + 0.5) / steps * length, (np.arange(steps) + 0.5) / steps * width)
    formation = placement.formation(pad)
    column = np.full(u.shape, depth)
    # From each side: distance from its outer face, and along it from its first corner.
    for side, off, along in zip(
        edge.sides,
        (v, length - u, width - v, u),
        (u, v, length - u, width - v),
        strict=True,
    ):
        courses = np.max([np.where((along >= r.start) & (along <= r.end), r.course, 1) for r in side.runs], axis=0)
        under = np.clip(edge.top - edge.section.height * courses - formation, 0.0, depth)
        column = np.where(off < edge.section.breadth, np.minimum(column, under), column)
    volume = float(column.mean()) * pad.area
    assert built.layers[0].compacted == pytest.approx(volume, rel=0.01)


@pytest.mark.parametrize(
    ("depth", "factor", "compactor", "lifts"),
    [(0.1, 1.1, "plate", 1), (0.15, 1.0, "plate", 1), (0.15, 1.1, "plate", 2), (0.3, 1.39, "tamper", 5)],
)
def test_lifts_when_counted(depth: float, factor: float, compactor: str, lifts: int) -> None:
    """Loose depth over the deepest lift, upwards: 0.165 m in lifts of 0.15 is two, 0.417 in lifts of 0.10 is five."""
    assert lifts_for(depth, factor, compactor) == lifts


def test_lift_depth_when_in_inches() -> None:
    """Six inches are 152.4 mm."""
    assert lift_depth("mechanical-tamper") == pytest.approx(0.1524)


def laid(order: FabricOrder) -> float:
    """Width that the sheets cover side by side."""
    return order.sheets * order.roll_width - (order.sheets - 1) * order.overlap


def test_fabric_when_worked_by_hand() -> None:
    """The way that takes less: 6.0 x 4.1 with 0.1 turned up is 6.2 x 4.3.

    Along: (4.3 - 0.375) / (2 - 0.375) = 2.4, 3 sheets of 6.2 are 18.6 m, 1 roll. Across: (6.2 - 0.375) / 1.625 = 3.6,
    4 sheets of 4.3 are 17.2 m, 1 roll, which is less. Staples: 5 lines of 6, and 6 between the corners of each of the
    two other edges.
    """
    order = fabric_order(pad_of(("clean-stone-20", 0.1)), None, FabricOptions.usual())
    assert order is not None
    assert (order.along, order.sheets, order.rolls, order.joins) == (False, 4, 1, 0)
    assert order.sheet_length == pytest.approx(4.3)
    assert order.cut == pytest.approx(4 * 4.3 * 2)
    assert order.staples == 5 * 6 + 2 * 6
    assert laid(order) >= 6.2


@pytest.mark.parametrize("width", [1.0, 1.5, 2.0, 4.5])
@pytest.mark.parametrize("length", [5.0, 8.0, 25.0])
def test_fabric_when_rolls_differ(width: float, length: float) -> None:
    """Whatever the roll, the sheets cover the ground with their overlaps, and one sheet fewer would not."""
    options = FabricOptions.usual(roll_width=width, roll_length=length)
    order = fabric_order(pad_of(("clean-stone-20", 0.1), size=(9.3, 6.7)), None, options)
    assert order is not None
    wide = 6.9 if order.along else 9.5
    assert laid(order) >= wide - 1e-9
    assert laid(order) - (width - order.overlap) < wide
    assert order.rolls * length * width >= order.cut - 1e-9


@pytest.mark.parametrize("pad", [pad_of(), pad_of(("clean-stone-20", 0.1))], ids=["nothing on it", "not wanted"])
def test_fabric_when_there_is_none(pad: Pad) -> None:
    """Without stone, or for somebody who wants none, no fabric is bought."""
    options = FabricOptions(wanted=not pad.build_up.layers)
    assert fabric_order(pad, None, options) is None


def test_usual_options_when_in_feet() -> None:
    """In feet the usual frame is in inches: lap 6 in, bars of 2 and 4 ft, stock of 8 to 16 ft, kerf of 1/8 in."""
    options = BuildOptions.usual(LengthUnit.FOOT_INCH)
    assert options.edge.lap == pytest.approx(0.1524)
    assert options.edge.bar_lengths == pytest.approx((0.6096, 1.2192))
    assert [one.length for one in options.stock] == pytest.approx([feet * 0.3048 for feet in (8, 10, 12, 16)])
    assert options.kerf == pytest.approx(0.003175)
    assert math.isclose(CUBIC_YARD, 0.764554857984)


def test_fabric_when_the_pad_is_no_rectangle() -> None:
    """It is reckoned for the rectangle round the pad, less the timber on both sides, and that is said."""
    corners = np.array([[-2.0, -2.0], [2.0, -2.0], [2.0, 1.0], [0.0, 2.0], [-2.0, 2.0]])
    layers = BuildUp((Layer("clean-stone-20", 0.1),))
    pad = Pad(corners, layers, 0.05, Edge("timber", "100 x 150"))
    ground, placement = plane(10.0, 0.02, 0.02, 4.0, 4.0), Placement(0.0, 0.0, 90.0, 10.0)
    work = earthwork(ground, pad, placement)
    built = build_plan(
        pad,
        10.0,
        edge_profile(ground, pad, placement),
        work,
        soil_account(work, soil_factors("loam")),
        options=BuildOptions.usual(METRE),
        unit=METRE,
    )
    assert built.edge is not None
    assert built.fabric is not None
    assert built.fabric.covered == pytest.approx((3.8 + 2 * 0.1) ** 2)
    assert sum("rectangle round the pad" in notice for notice in built.notices) == 1


def test_plan_when_the_edge_would_be_a_wall() -> None:
    """A frame of more than twenty courses is not drawn up: it says so, and sends for a design."""
    built, _, _, _ = planned(10.0, 0.0, 0.0, 13.2)
    assert built.edge is None
    assert any("that is a wall" in notice for notice in built.notices)
