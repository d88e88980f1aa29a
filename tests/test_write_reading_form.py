"""The blank form: how far apart for this pad, how to take the readings, lines to write on, and that it prints."""

from __future__ import annotations

import math
import re
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest

from sample_plan import HOSTILE
from spadework.cli.starter import INSTRUMENTS
from spadework.read import read_text
from spadework.readings import DropGrid
from spadework.units import FOOT, LengthUnit
from spadework.write.reading_form import FormFacts, reading_form, reading_spacing, usual_paper
from spadework.write.reading_steps import reading_rows, ways_of

METRE, FOOT_INCH = LengthUnit.METRE, LengthUnit.FOOT_INCH


def form(instrument: str = "rotary-laser", unit: LengthUnit = METRE, **facts: object) -> str:
    """A form for a pad of 3.6 m by 2.4 m."""
    given = {"name": "Pear court", "length": 3.6, "width": 2.4} | facts
    return reading_form(FormFacts(instrument=instrument, units=unit, **given)).decode("utf-8")  # type: ignore[arg-type]


def tree(page: str) -> ET.Element:
    """The body of a page as a tree."""
    body = page[page.index("<body>") : page.index("</body>") + 7]
    return ET.fromstring(body)  # noqa: S314 - made here


@pytest.mark.parametrize(
    ("length", "width", "unit", "spacing"),
    [
        (3.6, 2.4, METRE, 1.0),
        (6.0, 4.0, METRE, 2.0),
        (1.2, 0.8, METRE, 0.5),
        (30.0, 20.0, METRE, 4.0),
        (12 * FOOT, 10 * FOOT, FOOT_INCH, 5 * FOOT),
        (20 * FOOT, 7 * FOOT, LengthUnit.FOOT, 3 * FOOT),
    ],
)
def test_spacing_is_round_and_half_the_shorter_side(
    length: float, width: float, unit: LengthUnit, spacing: float
) -> None:
    """Half the shorter side or less, round in the user's unit, from 0.5 m (2 ft) to 4 m (12 ft)."""
    assert reading_spacing(length, width, unit) == pytest.approx(spacing, abs=1e-9)
    assert reading_spacing(width, length, unit) == pytest.approx(spacing, abs=1e-9)


@pytest.mark.parametrize(("length", "width"), [(3.6, 2.4), (5.0, 5.0), (8.0, 3.1)])
def test_two_rows_of_readings_fall_under_the_pad_wherever_it_goes(length: float, width: float) -> None:
    """A pad square to the grid covers two rows of readings each way at least, whatever its place."""
    spacing = reading_spacing(length, width, METRE)
    for side in (length, width):
        for share in range(100):
            start = share / 100 * spacing
            assert math.floor((start + side) / spacing + 1e-9) - math.ceil(start / spacing - 1e-9) + 1 >= 2


@pytest.mark.parametrize("unit", LengthUnit)
@pytest.mark.parametrize("instrument", [name for name, kind in INSTRUMENTS.items() if kind != "raster"])
def test_form_is_complete_for_each_instrument(instrument: str, unit: LengthUnit) -> None:
    """Each instrument has its steps, with no gap left in them, the spacing, and blank cells."""
    page = form(instrument, unit)
    words = re.sub(r"<[^>]+>", " ", page[page.index("<body>") :])
    assert "{" not in words
    assert "a reading every" in words
    body = tree(page)
    steps = body.findall(".//ol/li")
    assert len(steps) == len(ways_of()[instrument].steps) >= 5
    blank = [cell for cell in body.iter("td") if not "".join(cell.itertext()).strip()]
    assert len(blank) >= 24


def test_list_begins_and_ends_on_the_bench_mark() -> None:
    """The first and the last line are the bench mark's, and the headings are those of the reader."""
    body = tree(form())
    rows = ["".join(row.itertext()) for row in body.findall(".//tbody/tr")]
    assert rows[0].startswith("S1BM1")
    assert rows[-1].startswith("BM1")
    headings = [cell.text for cell in body.findall(".//table/thead/tr/th")]
    assert headings == ["set-up", "point", "east", "north", "rod", "note"]
    assert [row[1] for row in reading_rows(3)] == [
        "BM1",
        "H1",
        "H2",
        "F1",
        "F2",
        "F3",
        "F4",
        "T1",
        "1",
        "2",
        "3",
        "BM1",
    ]


def test_grid_has_its_distances_printed() -> None:
    """A form for drops has distances across and along at the spacing, ready to be typed as they stand."""
    body = tree(form("string-line", FOOT_INCH, length=12 * FOOT, width=10 * FOOT))
    across = [cell.text for cell in body.findall(".//table/thead/tr/th")]
    along = [cell.text for cell in body.findall(".//tbody/tr/th")]
    assert across == ["drop", "0'", "5'", "10'", "15'", "20'", "25'"]
    assert along[:4] == ["0'", "5'", "10'", "15'"]


@pytest.mark.parametrize(("paper", "unit"), [("A4", METRE), ("Letter", FOOT_INCH), ("Letter", METRE)])
def test_page_size_is_that_asked_for(paper: str, unit: LengthUnit) -> None:
    """The page is printed on the paper that was asked for; metres have A4, feet Letter."""
    assert f"@page {{ size: {paper}; margin: 12mm; }}" in form(unit=unit, paper=paper)
    assert usual_paper(METRE) == "A4"
    assert usual_paper(FOOT_INCH) == "Letter"


def test_name_is_taken_as_words() -> None:
    """A name that looks like markup is printed as it is, and no script runs."""
    page = form(name=HOSTILE)
    assert "<script" not in page
    assert HOSTILE in "".join(tree(page).find(".//h1").itertext())  # type: ignore[union-attr]


def test_nothing_is_fetched() -> None:
    """The form needs no other file, and its policy lets none be loaded."""

    class Links(HTMLParser):
        found: list[str] = []  # noqa: RUF012 - one parser, one page

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002 - its signature
            self.found += [value or "" for name, value in attrs if name in ("src", "href")]

    parser = Links()
    parser.feed(form())
    assert parser.found == []
    assert "default-src 'none'" in form()
    assert "url(" not in form()


@pytest.mark.parametrize("unit", LengthUnit)
def test_grid_is_read_when_typed_as_printed(unit: LengthUnit) -> None:
    """What stands on the form, with drops written into its cells, is read as a grid at those distances."""
    page = tree(form("water-level", unit, length=4.0, width=3.0))
    rows = [
        [cell.text or "" for cell in row] for row in page.findall(".//table/thead/tr") + page.findall(".//tbody/tr")
    ]
    drop = {METRE: "0.512", LengthUnit.FOOT: "1.68", FOOT_INCH: "1' 8 1/8\""}[unit]
    typed = "\n".join("\t".join(cell or drop for cell in row) for row in rows)
    grid = read_text(typed, units=unit).reading
    assert isinstance(grid, DropGrid)
    spacing = reading_spacing(4.0, 3.0, unit)
    assert grid.across.tolist() == pytest.approx([spacing * column for column in range(len(rows[0]) - 1)], abs=1e-9)
    assert grid.drop == pytest.approx(0.512, abs=0.001)
