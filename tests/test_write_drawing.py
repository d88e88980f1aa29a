"""The drawings: what stands on them, that nothing lies over anything else, and that they repeat to the byte."""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from xml.etree.ElementTree import fromstring as read_xml

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from sample_plan import HOSTILE, sample_plan
from spadework.build import Caution
from spadework.pad import Pad, Placement
from spadework.placement import KeepOut, Limits
from spadework.plan import Plan
from spadework.stakeout import stake_out
from spadework.units import LengthUnit
from spadework.write.canvas import png_bytes, svg_bytes
from spadework.write.drawing import pad_map, yard_map, yard_page
from spadework.write.labels import extent, overlap

SVG = "{http://www.w3.org/2000/svg}"
FIGURES = [yard_page, yard_map, pad_map]


def placed(plan: Plan, pad: Pad, placement: Placement) -> Plan:
    """The plan with another pad at another place."""
    best = replace(plan.search.best, placement=placement)
    found = stake_out(plan.ground, pad, placement, plan.references, unit=plan.units)
    return replace(plan, pad=pad, search=replace(plan.search, best=best), stakeout=found)


def crowded() -> Plan:
    """A plan with sixty keep-outs, a small pad, long names and every rule set aside."""
    plan = sample_plan(LengthUnit.FOOT_INCH)
    random = np.random.default_rng(5)
    keep_outs = tuple(
        KeepOut.circle(f"old apple tree number {i}", tuple(random.uniform([1, 1], [23, 17])), 0.4) for i in range(60)
    )
    return replace(
        placed(plan, Pad.rectangle(1.2, 0.9), Placement(12.0, 9.0, 45.0, 99.9)),
        limits=Limits(boundary=plan.limits.boundary, setback=0.5, keep_outs=keep_outs),
        overrides=tuple(
            f"Misclosure number {i} of 0' 1 1/8\" is more than the rule allows and was let pass." for i in range(3)
        ),
        cautions=tuple(
            Caution(f"c{i}", "Mind the gap between the two, and mind it well. " * 3, "none") for i in range(9)
        ),
        how=tuple(f"Sentence number {i} on how the numbers were got, with all its figures." for i in range(12)),
        datum="the level line of the string, taken as 100' 0\" where it passes over the drain by the gate",
        crs="EPSG:27700",
    )


def bare() -> Plan:
    """A plan without boundary, keep-outs, shots, references or bench mark."""
    plan = sample_plan(shots=None, references=(), bench=None, limits=Limits())
    return replace(plan, stakeout=stake_out(plan.ground, plan.pad, plan.search.best.placement))


def moved(plan: Plan, by: tuple[float, float]) -> Plan:
    """The plan with everything moved."""
    offset = np.array(by)
    ground = replace(plan.ground, origin=plan.ground.origin + offset)
    place = plan.search.best.placement
    placement = replace(place, east=place.east + by[0], north=place.north + by[1])
    references = tuple((name, east + by[0], north + by[1]) for name, east, north in plan.references)
    assert plan.shots is not None
    return replace(
        plan,
        ground=ground,
        shots=replace(plan.shots, east=plan.shots.east + by[0], north=plan.shots.north + by[1]),
        references=references,
        limits=Limits(boundary=tuple(ring + offset for ring in plan.limits.boundary), setback=1.0),
        search=replace(plan.search, best=replace(plan.search.best, placement=placement)),
        stakeout=stake_out(ground, plan.pad, placement, references),
    )


PLANS: dict[str, Callable[[], Plan]] = {
    "ordinary": sample_plan,
    "feet": lambda: sample_plan(LengthUnit.FOOT),
    "feet and inches": lambda: sample_plan(LengthUnit.FOOT_INCH),
    "crowded": crowded,
    "bare": bare,
    "500 km off": lambda: moved(sample_plan(), (412_000.0, 287_000.0)),
    "hostile name": lambda: sample_plan(name=HOSTILE),
    "level": lambda: sample_plan(ground=replace(sample_plan().ground, level=np.full(48, 99.995))),
    "triangle": lambda: placed(
        sample_plan(), Pad(np.array([[-2.0, -2.0], [2.0, 0.0], [-2.0, 2.0]])), Placement(12.0, 9.0, 10.0, 100.1)
    ),
}


def words_of(svg: bytes) -> list[str]:
    """Every piece of text of a drawing that is text."""
    return ["".join(found.itertext()) for found in read_xml(svg).iter(f"{SVG}text")]  # noqa: S314 - our own


def boxes(figure: Figure) -> dict[int, list[tuple[str, Bbox]]]:
    """Boxes of the labels of each map, on the renderer that draws the picture."""
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    return {
        number: [(text.get_text(), extent(text, renderer)) for text in axes.texts if text.get_text()]
        for number, axes in enumerate(figure.axes)
    }


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
@pytest.mark.parametrize("draw", FIGURES)
def test_no_label_lies_over_another(plan: Callable[[], Plan], draw: Callable[[Plan], Figure]) -> None:
    """On the real renderer no two labels of a map share a pixel, and none leaves the map."""
    figure = draw(plan())
    for number, found in boxes(figure).items():
        assert len(found) >= 3
        frame = figure.axes[number].bbox
        assert [one for (one, a), (two, b) in combinations(found, 2) if overlap(a, b)] == []
        assert [words for words, box in found if box.x0 < frame.x0 - 1 or box.x1 > frame.x1 + 1] == []


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_nothing_on_the_page_lies_over_anything_else(plan: Callable[[], Plan]) -> None:
    """Maps, title block, legend, scale, north and foot each keep to their place, all of it on the page."""
    figure = yard_page(plan())
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    parts = [(f"map {i}", axes.get_tightbbox(renderer)) for i, axes in enumerate(figure.axes)]
    parts += [("legend", legend.get_window_extent(renderer)) for legend in figure.legends]
    parts += [(text.get_text(), extent(text, renderer)) for text in figure.texts]
    # the north arrow belongs to the first map's axes but stands below it
    parts[0] = ("map 0", figure.axes[0].get_window_extent(renderer))
    shrunk = [(name, box.padded(-1.0)) for name, box in parts if box is not None]
    assert [(one, two) for (one, a), (two, b) in combinations(shrunk, 2) if overlap(a, b)] == []
    page = figure.bbox
    assert [name for name, box in shrunk if box.x0 < 0 or box.y0 < 0 or box.x1 > page.x1 or box.y1 > page.y1] == []


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_page_says_what_a_sheet_must_say(unit: LengthUnit) -> None:
    """Name, date, units, datum, how it was got, cautions, overrides; stakes, marks, cut and fill; scale and north."""
    plan = sample_plan(unit, overrides=("Misclosure of 31 mm let pass.",))
    words = words_of(svg_bytes(yard_page(plan), "yard"))
    whole = " ".join(words)
    expected = {
        LengthUnit.METRE: ("metres", "5.400 m", "10 m", "C 0.15", "99.920 m"),
        LengthUnit.FOOT: ("feet and decimals of a foot", "17.72 ft", "20 ft", "C 0.51", "327.82 ft"),
        LengthUnit.FOOT_INCH: ("feet and inches", "17' 8 5/8\"", "20 ft", 'C 6 1/8"', "327' 9 7/8\""),
    }[unit]
    for said in (
        *("Plum terrace", "2026-04-18", plan.datum, "Misclosure of 31 mm let pass.", "rotary laser", "buried services"),
        *("A", "B", "C", "D", "CUT", "FILL", "H1", "H2", "pear tree", "drain", "boundary", "setback"),
        *expected,
    ):
        assert said.replace("\u00a0", " ") in whole.replace("\u00a0", " "), said
    assert any(word.startswith("N, ") for word in words)


def test_contours_are_labelled_with_their_level() -> None:
    """The yard falls from about 100.9 to 99.3: contours at 0.2 m are named to one decimal."""
    words = words_of(svg_bytes(yard_map(sample_plan()), "yard"))
    labels = {float(word) for word in words if re.fullmatch(r"\d+\.\d", word)}
    assert {99.6, 99.8, 100.0, 100.2} <= labels
    assert all(math.isclose(level * 5, round(level * 5)) for level in labels)


def test_cut_and_fill_differ_without_colour() -> None:
    """The two areas have hatches of different direction, and in grey both tints stay lighter than any ink."""
    from spadework.write.map_pad import PAD_LOOKS  # noqa: PLC0415 - only this test looks inside

    assert PAD_LOOKS["cut"]["hatch"] != PAD_LOOKS["fill"]["hatch"]
    for name in ("cut", "fill"):
        red, green, blue = (int(PAD_LOOKS[name]["facecolor"][i : i + 2], 16) for i in (1, 3, 5))
        # ITU-R BT.709 luma
        assert 0.2126 * red + 0.7152 * green + 0.0722 * blue > 0.85 * 255


@pytest.mark.parametrize("draw", FIGURES)
def test_drawings_repeat_to_the_byte_when_drawn_again(draw: Callable[[Plan], Figure]) -> None:
    """The same plan gives the same SVG and PNG, with no date in them."""
    plan = sample_plan()
    first, second = draw(plan), draw(plan)
    assert svg_bytes(first, "yard") == svg_bytes(second, "yard")
    assert png_bytes(first) == png_bytes(second)
    assert b"<dc:date>" not in svg_bytes(first, "yard")


def test_svg_is_the_same_whether_or_not_a_png_was_drawn_first() -> None:
    """Writing one picture does not change the next."""
    plan = sample_plan()
    one, other = yard_page(plan), yard_page(plan)
    png_bytes(one)
    assert svg_bytes(one, "yard") == svg_bytes(other, "yard")


def test_drawing_does_not_touch_the_callers_settings() -> None:
    """A program that draws for itself keeps its own style."""
    import matplotlib as mpl  # noqa: PLC0415 - only this test looks at its settings

    with mpl.rc_context({"font.size": 23.0, "axes.facecolor": "red"}):
        before = dict(mpl.rcParams)
        styled = svg_bytes(yard_page(sample_plan()), "yard")
        assert dict(mpl.rcParams) == before
    assert styled == svg_bytes(yard_page(sample_plan()), "yard")


def test_hostile_words_stay_words() -> None:
    """A name with markup and formula signs is written as it is, in a well-formed SVG."""
    svg = svg_bytes(yard_page(sample_plan(name=HOSTILE)), HOSTILE)
    assert HOSTILE.replace(" ", "") in "".join(words_of(svg)).replace(" ", "")
    assert b"<script" not in svg


def test_png_is_between_150_and_200_dots_per_inch() -> None:
    """Pixels of the PNG against the size of the page."""
    figure = yard_page(sample_plan())
    png = png_bytes(figure)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", png[16:24])
    assert 150 <= wide / figure.get_size_inches()[0] <= 200
    assert 150 <= high / figure.get_size_inches()[1] <= 200


def test_scale_bar_is_as_long_as_it_says() -> None:
    """Four equal parts of the bar, on the page, are 10 m on the map."""
    figure = yard_page(sample_plan())
    axes = figure.axes[0]
    bar = [artist for artist in figure.patches + figure.artists if artist.get_label() == "scale bar"]
    assert len(bar) == 4
    length = sum(part.get_width() for part in bar) / axes.get_position().width
    west, east = axes.get_xlim()
    assert length * (east - west) == pytest.approx(10.0, rel=1e-9)


def test_maps_show_north_up_and_one_scale_in_both_directions() -> None:
    """A metre east is as long on the page as a metre north."""
    for draw in FIGURES:
        for axes in draw(sample_plan()).axes:
            origin, east, north = axes.transData.transform([(0, 0), (1, 0), (0, 1)])
            assert (east - origin)[0] == pytest.approx((north - origin)[1], rel=1e-9)
            assert (east - origin)[0] > 0
