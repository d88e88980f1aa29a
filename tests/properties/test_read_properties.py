"""What holds for every text: it is read or refused in words, no row vanishes, and what was written comes back."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spadework.errors import InputError
from spadework.read import ALL_KINDS, Recognised, read_file, read_text
from spadework.read.text import lines_of_bytes
from spadework.readings import DropGrid, LevelBook, LevelNetLines, PointList, RodList
from spadework.readings_positions import NamedRows, TapeTies
from spadework.units import LengthUnit

FOLDER = Path(__file__).parents[1] / "broken" / "readings"
TABLES = [path for path in sorted(FOLDER.glob("*.good.*")) if path.suffix != ".gpx"]
SOUND = sorted(path.read_text(encoding="utf-8") for path in TABLES)
TABLE_KINDS = [kind for kind in ALL_KINDS if kind != "raster"]

kinds = st.sampled_from([None, *TABLE_KINDS])
units = st.sampled_from([None, *LengthUnit])
orders = st.none() | st.text("PENZDRSBIFK-,", max_size=8)
snippets = st.sampled_from(
    [
        *(
            "point",
            "east (m)",
            "N",
            "rod",
            "BS",
            "IS",
            "FS",
            "RL",
            "drop",
            "known",
            "units: ft",
            "Sum",
            "#",
            "//",
            "---",
        ),
        *(
            ",",
            ";",
            "\t",
            "  ",
            " ",
            "|",
            "\n",
            "\r\n",
            "\r",
            '"',
            "'",
            "1.25",
            "1,25",
            "3' 6 1/2\"",
            "5.11",
            "-0' 3\"",
        ),
        *(
            "1e400",
            "nan",
            "inf",
            "½",
            "1/0",
            "٣",
            "１",
            "\ufeff",
            "\x00",
            "\u2028",
            "-",
            "(ft)",
            "[furlong]",
            "O.5",
            "1_0",
        ),
    ]
)
soups = st.lists(snippets | st.text(max_size=4), max_size=60).map("".join)


def read_or_refuse(text: str, **options: object) -> Recognised | None:
    """Return what a text is read as; an InputError is a good answer, any other error fails the test."""
    refusal: InputError | None = None
    try:
        recognised = read_text(text, **options)  # type: ignore[arg-type]  # options come from a strategy
    except InputError as error:
        refusal = error
    if refusal is not None:
        assert all(fault.what for fault in refusal.faults)
        assert str(refusal).strip()
        return None
    assert recognised.kind in ALL_KINDS
    assert recognised.sentence.startswith(f"read as {recognised.kind}: ")
    assert recognised.reason
    check_lines(recognised, text)
    return recognised


def check_lines(recognised: Recognised, text: str) -> None:
    """Every row names a line that holds something, no line is named twice, and no length is infinite."""
    reading = recognised.reading
    tables = LevelBook | LevelNetLines | RodList | PointList | DropGrid | NamedRows
    assert isinstance(reading, tables)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    # Ties stand several to a line, one in each column.
    assert len(set(reading.line.tolist())) == len(reading.line) or isinstance(reading, TapeTies)
    assert len(reading.line) > 0
    assert all(lines[line - 1].strip() for line in reading.line)
    first, kept = int(reading.line[0]), set(reading.line.tolist())
    after = [line.strip() for number, line in enumerate(lines, 1) if number > first and number not in kept]
    headings = {line.strip().casefold() for line in lines[:first]}
    assert [line for line in after if not may_be_left_out(line, headings)] == []
    for name in ("east", "north", "rod", "level", "backsight", "intermediate", "foresight", "drop", "across", "along"):
        values = getattr(reading, name, None)
        assert values is None or not np.isinf(values).any()


def may_be_left_out(line: str, headings: set[str]) -> bool:
    """Say whether a line below the first row is a comment, blank, a rule, repeated headings or a row of totals."""
    if line.startswith(("#", "//", "%")) or line.casefold() in headings:
        return True
    if re.match(r"\W*(sum|total|check|diff|[σ∑])", line, re.IGNORECASE):
        return True
    return not re.search(r"\w", re.sub(r"\b(n/a|nan|na)\b|_", "", line, flags=re.IGNORECASE))


@settings(max_examples=400, deadline=None)
@given(soups, units, kinds, orders)
def test_soup_is_read_or_refused_when_anything_is_pasted(
    text: str, unit: LengthUnit | None, kind: str | None, order: str | None
) -> None:
    """Any text at all, with any options, is read or refused in words."""
    read_or_refuse(text, units=unit, kind=kind, order=order)


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(SOUND), st.data(), units, kinds)
def test_mutated_file_is_read_or_refused_when_damaged(
    text: str, data: st.DataObject, unit: LengthUnit | None, kind: str | None
) -> None:
    """A real file with pieces cut out, doubled or written over is read or refused in words."""
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        stop = data.draw(st.integers(start, min(len(text), start + 30)))
        piece = data.draw(snippets | st.text(max_size=3) | st.just(text[start:stop] * 2) | st.just(""))
        text = text[:start] + piece + text[stop:]
    read_or_refuse(text, units=unit, kind=kind)


@settings(deadline=None)
@given(st.binary(max_size=300))
def test_bytes_are_lines_or_refused_when_anything_is_in_the_file(content: bytes) -> None:
    """Any bytes at all become lines or are refused in words."""
    message, lines = "", ()
    try:
        lines = lines_of_bytes([content], "a.csv").lines
    except InputError as error:
        message = str(error)
    assert message or any(line.strip() for line in lines)


separators = st.sampled_from([",", ";", "\t", " | ", "   "])
thousandths = st.integers(-9_000, 9_000)
positions = st.integers(-10_000_000, 10_000_000)
comment_or_none = st.sampled_from(["", "# windy today\n", "\n"])
rod_headings = st.sampled_from(["rod", "Reading", "level staff", "STAFF"])
east_headings = st.sampled_from(["east", "E", "Easting", "x", "distance across"])
north_headings = st.sampled_from(["north", "N", "Northing", "y", "distance along"])
unit_marks = st.sampled_from(["({})", "[{}]", "_{}", "/{}", " {}"])
shots = st.lists(st.tuples(positions, positions, thousandths), min_size=3, max_size=12)


def decimals(thousandth: int, comma: bool) -> str:
    """Write a whole number of thousandths as a decimal."""
    sign = "-" if thousandth < 0 else ""
    whole, part = divmod(abs(thousandth), 1000)
    return f"{sign}{whole}{',' if comma else '.'}{part:03d}"


@settings(deadline=None)
@given(st.data(), shots, separators, st.booleans(), unit_marks)
def test_rod_list_comes_back_when_written(
    data: st.DataObject, rows: list[tuple[int, int, int]], separator: str, comma: bool, mark: str
) -> None:
    """A rod list written with any separator, heading, decimal mark and order of columns comes back in full."""
    comma = comma and separator != ","
    written = {
        "point": ["point", *(f"Q{number}" for number in range(len(rows)))],
        "east": [data.draw(east_headings) + mark.format("m"), *(decimals(row[0], comma) for row in rows)],
        "north": [data.draw(north_headings) + mark.format("m"), *(decimals(row[1], comma) for row in rows)],
        "rod": [data.draw(rod_headings) + mark.format("m"), *(decimals(row[2], comma) for row in rows)],
    }
    names = data.draw(st.permutations(list(written)))
    lines = [separator.join(cells) + "\n" for cells in zip(*(written[name] for name in names), strict=True)]
    between = [data.draw(comment_or_none) for _ in lines]
    recognised = read_text("".join(extra + line for extra, line in zip(between, lines, strict=True)), units=None)
    rods = recognised.reading
    assert isinstance(rods, RodList)
    assert rods.point == tuple(written["point"][1:])
    np.testing.assert_allclose(rods.east, [row[0] / 1000 for row in rows], rtol=1e-15)
    np.testing.assert_allclose(rods.north, [row[1] / 1000 for row in rows], rtol=1e-15)
    np.testing.assert_allclose(rods.rod, [row[2] / 1000 for row in rows], rtol=1e-15)
    assert f"{len(rows)} shots" in recognised.sentence


sixteenths = st.integers(-16 * 12 * 30, 16 * 12 * 30)


def feet_and_inches(sixteenth: int) -> str:
    """Write a whole number of sixteenths of an inch as feet, inches and a fraction."""
    sign = "-" if sixteenth < 0 else ""
    inches, part = divmod(abs(sixteenth), 16)
    return f"{sign}{inches // 12}' {inches % 12}{f' {part}/16' if part else ''}\""


@settings(deadline=None)
@given(
    st.integers(1, 5).flatmap(lambda width: st.lists(st.lists(sixteenths, min_size=width, max_size=width), min_size=1)),
    st.sampled_from(["\t", ", ", "; ", " | ", "   "]),
)
def test_drop_grid_comes_back_when_written(drops: list[list[int]], separator: str) -> None:
    """A grid of feet and inches comes back exactly, in metres, whatever separates its cells."""
    across = [feet_and_inches(16 * 24 * place) for place in range(len(drops[0]))]
    lines = [separator.join(["drop", *across])]
    lines += [
        separator.join([feet_and_inches(16 * 36 * place), *(feet_and_inches(cell) for cell in row)])
        for place, row in enumerate(drops)
    ]
    grid = read_text("\n".join(lines)).reading
    assert isinstance(grid, DropGrid)
    np.testing.assert_allclose(grid.drop, np.array(drops) / 16 * 0.0254, rtol=1e-14, atol=1e-18)
    np.testing.assert_allclose(grid.along, np.arange(len(drops)) * 36 * 0.0254, rtol=1e-14)


readings = st.integers(0, 9_999)
set_ups = st.lists(st.tuples(readings, st.lists(readings, max_size=3), readings), min_size=1, max_size=6)


@settings(deadline=None)
@given(set_ups, st.sampled_from([",", ";", "\t"]), st.sampled_from([("m", 1.0), ("mm", 0.001), ("ft", 0.3048)]))
def test_level_book_comes_back_when_written(
    runs: list[tuple[int, list[int], int]], separator: str, unit: tuple[str, float]
) -> None:
    """A book of any number of set-ups comes back reading by reading, in the unit of its headings."""
    word, size = unit
    scale = 1 if word == "mm" else 1000
    rows: list[tuple[str, str, str]] = []
    before = ""
    for back, between, fore in runs:
        rows.append((cell(back, scale), "", before))
        rows += [("", cell(value, scale), "") for value in between]
        before = cell(fore, scale)
    rows.append(("", "", before))
    said = "decimal ft" if word == "ft" else word
    lines = [separator.join(["point", *(f"{sight} ({said})" for sight in ("BS", "IS", "FS")), "remarks"])]
    lines += [separator.join([f"P{number}", *row, ""]) for number, row in enumerate(rows)]
    book = read_text("\n".join(lines)).reading
    assert isinstance(book, LevelBook)
    assert len(book) == len(rows)
    for values, column in ((book.backsight, 0), (book.intermediate, 1), (book.foresight, 2)):
        wanted = [float(row[column]) * size if row[column] else np.nan for row in rows]
        np.testing.assert_allclose(values, wanted, rtol=1e-14)


def cell(reading: int, scale: int) -> str:
    """Write a reading as whole millimetres or with three decimals."""
    return str(reading) if scale == 1 else f"{reading / 1000:.3f}"


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.good.*")), ids=lambda path: path.name)
def test_paste_and_file_agree_when_the_text_is_the_same(path: Path) -> None:
    """A text is the same pasted or in a file."""
    from_file = read_file(path, units=LengthUnit.METRE, name="same")
    pasted = read_text(path.read_text(encoding="utf-8"), units=LengthUnit.METRE, name="same")
    assert from_file.sentence == pasted.sentence
    assert from_file.reading.file == pasted.reading.file == "same"
