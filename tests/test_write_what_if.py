"""What if a number is another, on paper: the bars, the document for programs, the field sheets."""

from __future__ import annotations

import io
import json
import math
from dataclasses import replace

import jsonschema
import pytest
from pypdf import PdfReader

from sample_plan import HOSTILE, sample_plan
from spadework.placement import Spot
from spadework.placement.objective import Objective
from spadework.placement.what_if import Assumption, Effect, Ending
from spadework.plan import Plan
from spadework.units import FOOT, LengthUnit
from spadework.write.drawings import spot_drawings
from spadework.write.field_sheet import field_sheet
from spadework.write.field_sheet_pdf import field_sheet_pdf
from spadework.write.plan_json import plan_bytes, plan_schema
from spadework.write.what_if_picture import what_if_files, what_if_page

YARD = (3 * FOOT) ** 3
BASE = 2.0
"""Value of the chosen spot. [m³]"""


def not_asked(number: float) -> Objective:
    """No objective: the effects are made by hand."""
    raise AssertionError(number)


def told(unit: LengthUnit = LengthUnit.METRE, *, name: str = "shrink of the soil", **changes: object) -> Plan:
    """The sample plan with four numbers: one with a flip, one that forbids the spot, one on one side, one idle."""
    plan = sample_plan(unit, **changes)
    here = replace(plan.search.best, value=BASE)
    there = replace(here, placement=replace(here.placement, east=here.placement.east + 3.0), value=1.6)

    def end(number: float, kept: float, best: Spot = here, moves: bool = False) -> Ending:
        return Ending(number, kept, best if moves else replace(best, value=kept), moves)

    shrink = Assumption(name, 0.05, 0.10, 0.15, not_asked)
    price = Assumption("price of fill", 16.0, 20.0, 25.0, not_asked, "price", "EUR")
    strip = Assumption("depth of the strip", 0.05, 0.075, 0.1, not_asked, "length")
    effects = (
        Effect(price, end(16.0, math.inf, there, moves=True), end(25.0, BASE), ()),
        Effect(shrink, end(0.05, 1.8), end(0.15, 2.5, there, moves=True), (end(0.12, 2.2, there, moves=True),)),
        Effect(replace(shrink, name="swell"), end(0.05, 2.1), end(0.15, 2.3), ()),
        Effect(strip, end(0.05, BASE), end(0.1, BASE), ()),
    )
    return replace(plan, search=replace(plan.search, best=here), what_if=effects)


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_bars_reach_the_values_in_the_units_of_the_reader(unit: LengthUnit) -> None:
    """Each bar runs from the value as assumed to the one at its end; where the spot is not allowed, off the chart."""
    scale = 1.0 if unit is LengthUnit.METRE else 1 / YARD
    axes = what_if_page(told(unit)).axes[0]
    base = BASE * scale
    low, high = axes.get_xlim()
    found = sorted((min(b.get_x(), b.get_x() + b.get_width()), abs(b.get_width())) for b in axes.patches)
    beyond = [(base, width * scale) for width in (0.0, 0.1, 0.3, 0.5)]
    expected = sorted([(base, high - base), (1.8 * scale, 0.2 * scale), *beyond])
    assert found == [pytest.approx(pair) for pair in expected]
    assert low < 1.6 * scale
    assert high > 2.5 * scale
    marks = sorted((line.get_marker(), float(line.get_xdata()[0])) for line in axes.lines if line.get_marker() in "Do")
    assert marks == [
        ("D", pytest.approx(2.2 * scale)),
        ("o", pytest.approx(1.6 * scale)),
        ("o", pytest.approx(1.6 * scale)),
    ]


def test_picture_says_each_number_and_what_was_set_aside() -> None:
    """The words stand beside the bars, whatever they are; the foot is that of every sheet."""
    files = what_if_files(told(name=HOSTILE, overrides=("OVERRIDDEN",)))
    text = files["what-if.svg"].decode()
    for words in (
        "5 % (\u221210 %)",
        "15 % (+25 %)",
        "flips at 12 %",
        "16.00 EUR/m³: not allowed",
        "no change from 0.050 m to 0.100 m",
        "$x$",
        "OVERRIDDEN",
        "Cautions:",
    ):
        assert words in text, words
    assert "<script>" not in text
    assert files["what-if.png"].startswith(b"\x89PNG")
    assert text == what_if_files(told(name=HOSTILE, overrides=("OVERRIDDEN",)))["what-if.svg"].decode()


def test_there_is_no_picture_when_nothing_is_told() -> None:
    """A search that kept nothing to ask, and a goal that rests on no number with a range."""
    for plan in (sample_plan(), replace(sample_plan(), what_if=())):
        assert not what_if_files(plan)
        assert "what-if.svg" not in spot_drawings(plan)


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_document_holds_it_and_keeps_the_schema(unit: LengthUnit) -> None:
    """Values and lengths in the document's units, prices for its unit of volume, nothing where it is not allowed."""
    document = json.loads(plan_bytes(told(unit)))
    jsonschema.validate(document, plan_schema())
    volume, length = (1.0, 1.0) if unit is LengthUnit.METRE else (YARD, FOOT)
    price, shrink, _, strip = document["what_if"]["numbers"]
    assert price["likely"] == pytest.approx(20.0 * volume)
    assert price["low"]["value_at_chosen"] is None
    assert price["swing"] is None
    assert price["low"]["placement"]["east"] == pytest.approx(document["placement"]["east"] + 3.0 / length)
    assert shrink["swing"] == pytest.approx(0.7 / volume)
    assert [flip["number"] for flip in shrink["flips"]] == [0.12]
    assert shrink["high"]["regret"] == pytest.approx(0.9 / volume)
    assert strip["likely"] == pytest.approx(0.075 / length)
    assert not strip["changes"]


def test_document_has_nothing_when_it_was_not_asked() -> None:
    """The document says null, which its schema allows."""
    document = json.loads(plan_bytes(sample_plan()))
    assert document["what_if"] is None
    jsonschema.validate(document, plan_schema())


def test_field_sheets_say_it_in_words() -> None:
    """The strongest number first, then the flip; on the phone volumes follow the unit that is chosen."""
    plan = told()
    page = field_sheet(plan).decode().replace("\u00a0", " ")
    part = page[page.index("What if a number is another") :]
    assert "Another spot becomes better where the shrink of the soil passes 12 %" in part
    assert 'class="len" data-m="3.0"' in part
    paper = field_sheet_pdf(plan)
    words = " ".join(" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(paper)).pages)
    assert "What if a number is another" in words
    assert "the shrink of the soil passes 12 %" in words
