"""Rows under headings to columns with meanings: ragged rows, doubled headings and units settled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault, InputError
from spadework.read.angles import angle_label
from spadework.read.headed import Column, HeadedTable, find_decimal_comma, no_unit
from spadework.read.headings import LENGTHS, UNIT_OF_SITE, ColumnUnit, Heading
from spadework.read.position_kinds import DISTANCES, MOST_TIES, places_in_names, settled_meaning
from spadework.read.recognise import (
    Headings,
    Ordered,
    declared_unit,
    doubled,
    is_blank,
    missing_columns,
    refuse_numbers_above,
)
from spadework.read.recognised import ColumnMeaning
from spadework.read.separators import WIDE
from spadework.read.table import RawTable, counted, fit_row, lines_said
from spadework.units import LengthUnit

__all__ = ["arrange", "column_meanings"]

WIRE_COLUMNS = tuple(f"{sight}{wire}" for sight in ("bs", "fs") for wire in ("upper", "middle", "lower"))
POSITIONS = frozenset(
    (*DISTANCES, "east", "north", "backsightlength", "sightlength", *(f"tie{n}" for n in range(1, MOST_TIES + 1)))
)
# Meanings that each kind has a use for.
USED: dict[str, frozenset[str]] = {
    "level-book": frozenset(
        (
            *("point", "backsight", "intermediate", "foresight", "hi", "rise", "fall", "level", "known", "distance"),
            *("note", "backsightlength", "sightlength", "upper", "middle", "lower", *WIRE_COLUMNS),
        )
    ),
    "level-net": frozenset(("from", "to", "rise", "fall", "difference", "setups", "setup", "distance", "sd", "note")),
    "rod-list": frozenset(
        ("setup", "point", "east", "north", "rod", "note", "station", "offset", "upper", "middle", "lower")
    ),
    "points": frozenset(("point", "east", "north", "level", "note", "station", "offset")),
    "string-line": frozenset(("string", "point", "distance", "drop", "note")),
    "slope-walk": frozenset(("from", "to", "distance", "slope", "bearing", "note")),
    "radial": frozenset(
        (
            *("setup", "point", "direction", "bearing", "distance", "slopedistance", "horizontaldistance", "vertical"),
            *("zenith", "rod", "ih", "interval", "upper", "middle", "lower", "note"),
        )
    ),
    "ties": frozenset(("point", "from", "distance", "side", "note", *(f"tie{n}" for n in range(1, MOST_TIES + 1)))),
    "peg-test": frozenset(("setup", "point", "rod", "distance", "upper", "middle", "lower", "note")),
    "track": frozenset(("point", "latitude", "longitude", "level", "note")),
}


@dataclass(frozen=True)
class Settled:
    """A heading with the meaning that it has in one kind of table."""

    heading: Heading
    meaning: str
    why: str


def settle(headings: Sequence[Heading], kind: str) -> list[Settled]:
    """Return what each heading means in a kind of table; ``station`` and ``no`` depend on what else is there."""
    present = {heading.meaning for heading in headings}
    named = "point" in present
    settled: list[Settled] = []
    along = "offset" in present and "station" in present and not {"east", "north"} <= present
    for heading in headings:
        meaning, why = heading.meaning, "heading"
        ties = sum(1 for other in settled if other.meaning.startswith("tie"))
        if (mine := settled_meaning(heading, kind, tuple(present), ties)) is not None:
            meaning, why = mine
        elif meaning == "station" and along and kind in ("rod-list", "points"):
            why = "station along a baseline"
        elif meaning == "offset" and not along:
            meaning = ""
        elif meaning == "station":
            if kind == "rod-list" and named and "setup" not in present:
                meaning, why = "setup", "a station beside point names is where the instrument stood"
            elif not named:
                meaning, why = "point", "there is no other column of names"
                named = True
        elif meaning == "number" and not named and "station" not in present:
            meaning, why = "point", "there is no other column of names"
            named = True
        if heading.text.strip().casefold() in ("x", "y") and meaning in ("east", "north"):
            why = "x is taken as east and y as north"
        settled.append(Settled(heading, meaning if meaning in USED[kind] else "", why))
    return settled


def arrange(
    table: RawTable, headings: Headings | Ordered, kind: str, units: LengthUnit | None
) -> tuple[HeadedTable, tuple[ColumnMeaning, ...]]:
    """Return the rows below the headings as columns with meanings.

    Parameters
    ----------
    table : RawTable
        All rows.
    headings : Headings or Ordered
        The row of headings, or the order that the user gave for a table without.
    kind : str
        Kind of table.
    units : LengthUnit, optional
        Unit of plain numbers where the file does not say.

    Raises
    ------
    InputError
        Missing or doubled headings, unknown units, ragged rows, mixed decimal marks: all of them at once.
    """
    if isinstance(headings, Ordered):
        columns = [Heading(f"column {place}", meaning) for place, meaning in enumerate(headings.meanings, 1)]
        settled = [Settled(heading, heading.meaning, f"order {headings.text} given") for heading in columns]
        top, first = 0, 0
    else:
        settled, top = settle(headings.headings, kind), headings.row
        first = top + 1
    notes = list(table.notes) + refuse_numbers_above(table, top, "the headings")
    faults = doubled(table, top, [(item.heading.text, item.meaning) for item in settled])
    missing = missing_columns(
        table, Headings(top, tuple(Heading(item.heading.text, item.meaning) for item in settled)), kind
    )
    by_name = isinstance(headings, Headings) and places_in_names(table, headings)
    if missing and not acceptable(kind, settled, by_name=by_name):
        faults.append(missing)
    for item in settled:
        if item.heading.unknown_unit and item.meaning:
            what = f"{item.heading.unknown_unit!r} in the heading {item.heading.text!r} is not a unit known here"
            remedy = "use m, cm, mm, ft, decimal ft, ft-in, in or US survey ft"
            faults.append(Fault(what, "a length is in metres or feet", remedy, table.source(top, item.heading.text)))
    if faults:
        raise InputError(faults)
    rows, line = fitted_rows(table, settled, first, isinstance(headings, Headings), notes)
    cells: Sequence[Sequence[str]] = list(zip(*rows, strict=True))
    units_of = column_units(settled, declared_unit(table, top), units, notes)
    found: dict[str, Column] = {}
    for place, item in enumerate(settled):
        unit, said, why = units_of[place]
        if item.meaning == "note" and "note" in found:
            joined = tuple(" ".join(filter(None, pair)) for pair in zip(found["note"].cells, cells[place], strict=True))
            found["note"] = Column(found["note"].heading, joined, why=item.why)
        elif item.meaning:
            found[item.meaning] = Column(
                item.heading, cells[place], unit, said, "; ".join(filter(None, (item.why, why)))
            )
    heading_line = None if isinstance(headings, Ordered) else table.line[top]
    lengths = [column for meaning, column in found.items() if meaning in LENGTHS]
    if fault := no_unit(lengths, line, table.file):
        raise InputError(fault)
    comma = find_decimal_comma(lengths, line, table.file)
    if comma:
        notes.append("numbers have decimal commas")
    meanings = column_meanings(settled, units_of)
    if unused := [
        item.heading.text for item, cell in zip(settled, cells, strict=True) if not item.meaning and any(cell)
    ]:
        notes.append(
            f"{counted(len(unused), 'column')} not used: {', '.join(name or '(no heading)' for name in unused)}"
        )
    return HeadedTable(table.file, line, found, heading_line, comma, notes), meanings


def acceptable(kind: str, settled: Sequence[Settled], *, by_name: bool) -> bool:
    """Say whether a kind can do without what is missing; ``by_name`` where points are called after their places."""
    meanings = {item.meaning for item in settled}
    if kind == "points":
        if "level" in meanings and ({"station", "offset"} <= meanings or by_name):
            return True
        # Places without levels: only where no other column could be the level.
        return {"east", "north"} <= meanings and all(item.meaning for item in settled)
    if kind == "radial":
        reach = (
            meanings & {"distance", "slopedistance", "horizontaldistance", "interval"} or {"upper", "lower"} <= meanings
        )
        return bool({"point"} <= meanings and meanings & {"direction", "bearing"} and reach)
    if kind == "level-net":
        return {"from", "to"} <= meanings and bool(meanings & {"rise", "fall", "difference"})
    if kind == "ties":
        return "point" in meanings and "tie2" in meanings
    if kind == "rod-list":
        return bool(
            ("rod" in meanings or {"upper", "middle", "lower"} <= meanings)
            and ({"east", "north"} <= meanings or {"station", "offset"} <= meanings or by_name)
        )
    starts = "backsight" in meanings or {"bsupper", "bslower"} <= meanings
    ends = meanings & {"intermediate", "foresight"} or {"fsupper", "fslower"} <= meanings
    return bool(kind == "level-book" and "point" in meanings and starts and ends)


def fitted_rows(
    table: RawTable, settled: Sequence[Settled], first: int, headed: bool, notes: list[str]
) -> tuple[list[list[str]], np.ndarray[tuple[int], np.dtype[np.int64]]]:
    """Return every row with as many cells as there are headings; raise with all that do not fit."""
    names = [item.heading.text for item in settled]
    spare = 0
    while spare < len(settled) - 1 and settled[-1 - spare].meaning == "note":
        spare += 1
    heading_text = table.text[first - 1] if headed and table.separator is WIDE else ""
    heading_cells = [name.casefold() for name in names]
    rows: list[list[str]] = []
    line: list[int] = []
    faults: list[Fault] = []
    repeated: list[int] = []
    aligned: list[int] = []
    width = len(names)
    for place in range(first, len(table.rows)):
        row: list[str] | str = table.rows[place]
        if len(row) != width:
            row = fit_row(table.rows[place], table.text[place], names, heading_text, spare=spare)
            if heading_text and len(table.rows[place]) < width and isinstance(row, list):
                aligned.append(table.line[place])
        if isinstance(row, str):
            if not is_blank(table.rows[place]):
                remedy = "write every cell of the row, - for an empty one"
                faults.append(Fault(row, "a row has one cell for each heading", remedy, table.source(place)))
        elif headed and row[0].casefold() == heading_cells[0] and [cell.casefold() for cell in row] == heading_cells:
            repeated.append(table.line[place])
        elif not is_blank(row):
            rows.append(row)
            line.append(table.line[place])
    if faults:
        raise InputError(faults)
    if not rows:
        what = "there is no row below the headings"
        raise InputError(
            Fault(what, "readings need at least one row", "write the readings", table.source(max(first - 1, 0)))
        )
    if aligned:
        notes.append(f"empty cells told by what stands under which heading in {lines_said(aligned)}")
    if repeated:
        notes.append(f"headings repeated in {lines_said(repeated)}")
    return rows, np.array(line, dtype=np.int64)


UnitOf = tuple[ColumnUnit | None, bool, str]


def column_units(
    settled: Sequence[Settled], declared: ColumnUnit | None, units: LengthUnit | None, notes: list[str]
) -> list[UnitOf]:
    """Return for each column its unit, whether the file itself says so, and how it was found."""
    found: list[UnitOf] = []
    for item in settled:
        if item.meaning not in LENGTHS:
            found.append((None, False, ""))
            continue
        if item.heading.unit:
            found.append((item.heading.unit, True, "unit in the heading"))
            continue
        positions = item.meaning in POSITIONS
        beside = {
            other.heading.unit
            for other in settled
            if other.heading.unit
            and other.meaning in LENGTHS
            and other.meaning != "sd"
            and (other.meaning in POSITIONS) is positions
        }
        if len(beside) == 1:
            found.append((beside.pop(), True, "unit as in the headings beside it"))
        elif declared:
            found.append((declared, True, "unit declared in the file"))
        elif units is not None and not beside:
            found.append((UNIT_OF_SITE[units], False, "unit of the site"))
        else:
            found.append((None, False, "no unit said"))
    said = {unit.label for unit, from_file, _ in found if unit and from_file}
    if units is not None and said and UNIT_OF_SITE[units].label not in said:
        notes.append(
            f"the file says {' and '.join(sorted(said))}, so the {UNIT_OF_SITE[units].label} of the site do not apply"
        )
    return found


def column_meanings(settled: Sequence[Settled], units_of: Sequence[UnitOf]) -> tuple[ColumnMeaning, ...]:
    """Return how each column was understood."""
    meanings = []
    for item, (unit, _, why) in zip(settled, units_of, strict=True):
        if item.meaning:
            reason = "; ".join(filter(None, (item.why, why)))
        else:
            reason = "not needed for this kind of table" if item.heading.meaning else "heading not known"
        meanings.append(
            ColumnMeaning(
                item.heading.text,
                item.meaning,
                unit.label if unit else angle_label(item.meaning, item.heading.text),
                reason,
            )
        )
    return tuple(meanings)
