"""A blank form for the readings, to print on A4 or Letter: how to take them, how far apart, and lines to write on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from string import Template

from spadework.factors import factor_row
from spadework.units import FOOT, LengthUnit, format_inches, format_length
from spadework.write.markup import Markup, element, items, joined
from spadework.write.reading_steps import Ways, reading_rows, ways_of

__all__ = ["PAPERS", "FormFacts", "reading_form", "reading_spacing", "usual_paper"]

PAPERS = ("A4", "Letter")
ROUND = {
    LengthUnit.METRE: (0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0),
    LengthUnit.FOOT: tuple(feet * FOOT for feet in (2, 3, 4, 5, 6, 8, 10, 12)),
    LengthUnit.FOOT_INCH: tuple(feet * FOOT for feet in (2, 3, 4, 5, 6, 8, 10, 12)),
}
"""Spacings that people tape; common practice, no source. [m]"""
AROUND = 2.0  # the form has room for a yard so many times as long and as wide as the pad
MOST_ACROSS, MOST_ALONG = 8, 16  # columns and rows of distances that a sheet of a grid has room for
FEWEST_ROWS, MOST_ROWS = 30, 50
UNIT_WORDS = {
    LengthUnit.METRE: ("metres, to the millimetre", "m"),
    LengthUnit.FOOT: ("feet and decimals of a foot, to the hundredth", "ft"),
    LengthUnit.FOOT_INCH: ("feet and inches, to the eighth", "ft-in"),
}


@dataclass(frozen=True, slots=True)
class FormFacts:
    """What a form is for.

    Parameters
    ----------
    name : str
        Name of the site.
    instrument : str
        A row of ``templates/reading-steps.toml``.
    units : LengthUnit
        Unit that is written.
    length, width : float
        Of the pad. [m]
    paper : str
        One of `PAPERS`.
    bench : str
        What the bench mark is called, and the level it has been given.
    """

    name: str
    instrument: str
    units: LengthUnit
    length: float
    width: float
    paper: str = "A4"
    bench: str = "BM1"


def usual_paper(units: LengthUnit) -> str:
    """Return the paper that people have who measure in a unit."""
    return "A4" if units is LengthUnit.METRE else "Letter"


def reading_spacing(length: float, width: float, units: LengthUnit) -> float:
    """Return how far apart to take readings for a pad: half its shorter side or less, round in the user's unit. [m]

    Two rows of readings then fall under the pad each way wherever it goes square to them, and mostly three. Common
    practice, no source; where the ground bends between the readings they have to be closer.

    Parameters
    ----------
    length, width : float
        Of the pad. [m]
    units : LengthUnit
        The user's unit.
    """
    steps = ROUND[units]
    half = min(length, width) / 2 + 1e-9
    return max((step for step in steps if step <= half), default=steps[0])


def reading_form(facts: FormFacts) -> bytes:
    """Return the form as one HTML file that needs nothing else.

    Parameters
    ----------
    facts : FormFacts
        What it is for.
    """
    ways = ways_of()[facts.instrument]
    spacing = reading_spacing(facts.length, facts.width, facts.units)
    body = _grid(facts, spacing) if ways.grid else _list(facts, spacing)
    parts = {
        "title": element("title", f"{facts.name}: readings"),
        "page": f"@page {{ size: {facts.paper}; margin: 12mm; }}",
        "style": Markup(_template("reading-form.css")),
        "name": element("h1", f"{facts.name}: readings"),
        "head": _head(facts, ways),
        "spacing": _spacing(facts, spacing),
        "steps": items("ol", ways.said(_words(facts))),
        "body": body,
        "after": items("ul", _after(facts, ways)),
    }
    return Template(_template("reading-form.html")).substitute(parts).encode("utf-8")


def _template(name: str) -> str:
    """Return a file of the templates folder."""
    return (files("spadework.write") / "templates" / name).read_text(encoding="utf-8")


def _words(facts: FormFacts) -> dict[str, str]:
    """Return what the steps leave open."""
    metric = facts.units is LengthUnit.METRE
    return {
        "bench": facts.bench,
        "far": "30 m" if metric else "100 ft",
        "closed": "6 mm" if metric else "0.02 ft" if facts.units is LengthUnit.FOOT else '1/4"',
        "string": "10 m" if metric else "30 ft",
        "step": {LengthUnit.METRE: "millimetre", LengthUnit.FOOT: "hundredth of a foot"}.get(
            facts.units, "eighth of an inch"
        ),
    }


def _round_length(metres: float, unit: LengthUnit) -> str:
    """Return a round length without decimals that say nothing: ``1.5 m``, ``6 ft``."""
    if unit is LengthUnit.METRE:
        return f"{metres:g} m"
    return f"{metres / FOOT:g} ft"


def _head(facts: FormFacts, ways: Ways) -> Markup:
    """Return the lines to be filled in at the top."""
    words, label = UNIT_WORDS[facts.units]
    printed = [("Instrument", ways.name), ("Unit", f"{words} ({label})"), ("Level given to " + ways.line, facts.bench)]
    blank = [("Date", ""), ("Taken by", ""), ("Rod or tape held by", ""), ("Weather, ground", "")]
    return element(
        "dl",
        joined(
            element("div", element("dt", name), element("dd", value, class_="" if value else "line"))
            for name, value in (*printed, *blank)
        ),
    )


def _spacing(facts: FormFacts, spacing: float) -> Markup:
    """Return how far apart to take readings, and how sure one is."""
    row = factor_row("instruments", facts.instrument)
    sure = row.value / 1000
    said = format_inches(sure) if facts.units is LengthUnit.FOOT_INCH else format_length(sure, facts.units)
    size = " by ".join(_pad_side(side, facts.units) for side in (facts.length, facts.width))
    between = _round_length(spacing, facts.units)
    return joined(
        [
            element(
                "p",
                element("b", f"For a pad of {size}: a reading every {between}"),
                " over all the ground where"
                " it may go, and past it on every side. Closer wherever the slope changes: at the top and the foot"
                " of a bank, along a hollow, at the edge of a drive. Outside the readings there is no ground: the"
                " pad cannot go there.",
            ),
            element("p", f"One reading of this kind is good to about {said} (a standard deviation; {row.status})."),
        ]
    )


def _pad_side(metres: float, unit: LengthUnit) -> str:
    """Return a side of the pad as people say it."""
    if unit is LengthUnit.METRE:
        return f"{round(metres, 3):g} m"
    return format_length(metres, unit) if unit is LengthUnit.FOOT_INCH else f"{round(metres / FOOT, 2):g} ft"


def _list(facts: FormFacts, spacing: float) -> Markup:
    """Return the table of a rod list: the bench mark first and last, the places to be marked, then blank lines."""
    headings = ("set-up", "point", "east", "north", "rod", "note")
    count = math.prod(math.ceil(AROUND * side / spacing) + 1 for side in (facts.length, facts.width))
    rows = reading_rows(min(max(count, FEWEST_ROWS), MOST_ROWS))
    head = element("thead", element("tr", *(element("th", name, scope="col") for name in headings)))
    return element("table", head, element("tbody", joined(_row(cells) for cells in rows)), class_="list")


def _grid(facts: FormFacts, spacing: float) -> Markup:
    """Return a blank grid of drops, its distances across and along written in."""
    across = min(math.ceil(AROUND * facts.length / spacing) + 1, MOST_ACROSS)
    along = min(math.ceil(AROUND * facts.width / spacing) + 2, MOST_ALONG)
    distances = [_distance(number * spacing, facts.units) for number in range(max(across, along))]
    head = element(
        "thead",
        element("tr", element("th", "drop", scope="col"), *(element("th", d, scope="col") for d in distances[:across])),
    )
    body = joined(
        element("tr", element("th", distances[row], scope="row"), *(element("td", "") for _ in range(across)))
        for row in range(along)
    )
    caption = element("caption", "First row: distance across, to the right. First column: distance along.")
    return element("table", caption, head, element("tbody", body), class_="grid")


def _distance(metres: float, unit: LengthUnit) -> str:
    """Return a distance as it stands in a table."""
    if unit is LengthUnit.FOOT_INCH:
        return format_length(metres, unit).replace(' 0"', "")
    return f"{metres if unit is LengthUnit.METRE else metres / FOOT:g}"


def _row(cells: Sequence[str]) -> Markup:
    """Return a line of the table."""
    return element("tr", *(element("td", cell) for cell in cells))


def _after(facts: FormFacts, ways: Ways) -> list[str]:
    """Return what to do when the readings are taken."""
    plain = {
        LengthUnit.METRE: "Plain numbers are metres.",
        LengthUnit.FOOT: "Plain numbers are feet and decimals of a foot.",
        LengthUnit.FOOT_INCH: "Keep the marks of feet and inches: 3' 6 1/2\".",
    }[facts.units]
    if ways.grid:
        how = "tabs or two spaces between the cells, a dash where nothing was measured"
        return [
            f"Type the grid into drops.txt as it stands here: {how}. {plain}",
            "Then spadework plan makes the plan.",
        ]
    return [
        f"Type the table into shots.csv under the headings setup,point,east,north,rod,note. {plain}",
        "Then spadework level shots.csv shows how the page closes, and spadework plan makes the plan.",
    ]
