"""Levels taken on the work: a list by the names of stakes, with what its comments say of stage and bench mark.

The list that the field sheet hands out is a table ``stake, rod, note`` below comment lines ``# site: NAME``,
``# units: m``, ``# bench: BM1 reading 1.352``, ``# stage: formation`` and ``# date: 2026-05-09``. Every other kind of
readings is read as it is elsewhere, and may carry the same comments.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from spadework.errors import Fault, InputError, Source
from spadework.read import Recognised, read_source
from spadework.read.arrange import arrange
from spadework.read.headed import PLAIN_COMMA, WITH_POINT
from spadework.read.points import read_points
from spadework.read.recognise import Headings, declared_unit, find_headings
from spadework.read.rod_list import read_rod_list
from spadework.read.table import COMMENT_MARKS, EMPTY, RawTable, counted, raw_table
from spadework.read.text import SourceText
from spadework.readings import PointList, RodList
from spadework.units import LengthUnit, parse_length

__all__ = ["CheckList", "Said", "read_check_list"]

SAYING = re.compile(r"(site|plan of|bench|stage|date|line|note on .+?)\s*[:=]\s*(.+)", re.IGNORECASE)
BENCH = re.compile(r"(?P<name>.+?)\s+(?:reading|reads|rod)\s*[:=]?\s*(?P<reading>.+)", re.IGNORECASE)
STAKE = re.compile(r"\bstakes?\b", re.IGNORECASE)
FLAT_READINGS = ("rod", "drop", "level")  # a column of levels beside rods or drops is what they were worked out to
NOT_BY_STAKE = frozenset(("east", "north", "station", "string", "backsight", "foresight", "latitude"))


@dataclass(frozen=True, slots=True)
class Said:
    """What one comment line says.

    Parameters
    ----------
    text : str
        As written.
    source : Source
        Where.
    """

    text: str
    source: Source


@dataclass(frozen=True)
class CheckList:
    """Readings taken on the work.

    Parameters
    ----------
    recognised : Recognised
        The readings; points of a list by stake have no positions.
    said : mapping of str to Said
        What the comments say of ``site``, ``plan of``, ``stage``, ``date``, ``line`` and ``note on ...``.
    bench : (str, float, Source), optional
        Name of the bench mark and the rod reading on it that a comment gives. [m]
    by_stake : str
        ``"rod"``, ``"drop"`` (below a line) or ``"level"`` for a list by the names of stakes; empty for other kinds.
    """

    recognised: Recognised
    said: Mapping[str, Said] = field(default_factory=dict)
    bench: tuple[str, float, Source] | None = None
    by_stake: str = ""

    @property
    def drops(self) -> bool:
        """Whether the readings are drops below a line and not rods."""
        return self.by_stake == "drop"


def read_check_list(source: SourceText, *, units: LengthUnit, kind: str | None = None) -> CheckList:
    """Read levels taken on the work.

    Parameters
    ----------
    source : SourceText
        The lines.
    units : LengthUnit
        Unit of plain numbers where the file does not say.
    kind : str, optional
        Kind of the readings, to overrule what would be recognised.

    Raises
    ------
    InputError
        With every fault of the file.
    """
    said = _sayings(source)
    source = _with_points(source)
    bench, faults = _bench(source, said, units)
    try:
        listed = _by_stake(source, units) if kind is None else None
        recognised, by_stake = listed or (read_source(source, units=units, kind=kind, order=None), "")
    except InputError as error:
        raise InputError([*faults, *error.faults]) from None
    if faults:
        raise InputError(faults)
    return CheckList(recognised, said, bench, by_stake)


def _sayings(source: SourceText) -> dict[str, Said]:
    """Return what the comments say; the first that says a thing holds, another that differs is a fault."""
    found: dict[str, Said] = {}
    faults = []
    for number, line in enumerate(source.lines, 1):
        bare = line.strip()
        saying = SAYING.fullmatch(bare.lstrip("#/% \t")) if bare.startswith(COMMENT_MARKS) else None
        if saying is None:
            continue
        note = saying[1].casefold().startswith("note on")
        key, text = (saying[1] if note else saying[1].casefold()), saying[2].strip()
        if key in found and found[key].text.casefold() != text.casefold():
            what = f"{key} is {text!r} here and {found[key].text!r} in line {found[key].source.line}"
            faults.append(
                Fault(
                    what,
                    "a file of levels is of one stage and one set-up",
                    "Make two files",
                    Source(source.file, number),
                )
            )
        found.setdefault(key, Said(text, Source(source.file, number)))
    if faults:
        raise InputError(faults)
    return found


def _bench(
    source: SourceText, said: Mapping[str, Said], units: LengthUnit
) -> tuple[tuple[str, float, Source] | None, list[Fault]]:
    """Return the reading on the bench mark that a comment gives. [m]"""
    saying = said.get("bench")
    if saying is None:
        return None, []
    match = BENCH.fullmatch(saying.text)
    if match is None:
        what = f"the comment on the bench mark is {saying.text!r}"
        remedy = "Write it so: # bench: BM1 reading 1.352"
        return None, [Fault(what, "it names the bench mark and the rod reading on it", remedy, saying.source)]
    table, text = raw_table(source), match["reading"].strip()
    declared = declared_unit(table, 0)
    unit = units if declared is None else declared.length_unit
    comma = "," in text and _has_decimal_commas(table)
    try:
        reading = parse_length(text, unit, decimal_comma=comma, source=saying.source)
    except InputError as error:
        return None, list(error.faults)
    plain = text.replace(",", ".") if comma else text
    if declared is not None and re.fullmatch(r"[+-]?[\d.]+", plain):
        reading = float(plain) * declared.times / declared.over
    return (match["name"].strip().strip("\"'"), reading, saying.source), []


def _has_decimal_commas(table: RawTable) -> bool:
    """Tell whether the rows have decimal commas, and no decimal points that would leave it open."""
    cells = [cell for row in table.rows for cell in row]
    return any(map(PLAIN_COMMA.fullmatch, cells)) and not any(map(WITH_POINT.fullmatch, cells))


def _by_stake(source: SourceText, units: LengthUnit) -> tuple[Recognised, str] | None:
    """Return a list by the names of stakes, and what it holds; None where the file is of another kind."""
    table = raw_table(source)
    headings = find_headings(table)
    if headings is None:
        return None
    meanings = headings.meanings
    named = "point" in meanings or "number" in meanings
    held = next((reading for reading in FLAT_READINGS if reading in meanings), None)
    if not named or held is None or meanings & NOT_BY_STAKE:
        return None
    if "level" in meanings and held != "level":
        return None
    return _listed(table, headings, units, held)


def _with_points(source: SourceText) -> SourceText:
    """Return the lines with a heading ``stake`` called ``point``, as the other readers call it."""
    table = raw_table(source)
    headings = find_headings(table)
    if headings is None or "point" in headings.meanings:
        return source
    number = table.line[headings.row] - 1
    line, found = STAKE.subn("point", source.lines[number], count=1)
    if not found:
        return source
    return replace(source, lines=(*source.lines[:number], line, *source.lines[number + 1 :]))


def _listed(table: RawTable, headings: Headings, units: LengthUnit, held: str) -> tuple[Recognised, str]:
    """Return a list of names and rods, drops or levels as the reader of rods or points reads it, without positions."""
    top = headings.row
    place = next(number for number, heading in enumerate(headings.headings) if heading.meaning == held)
    head = list(table.rows[top])
    if held == "drop":
        head[place] = re.sub(r"^[^(\[{]+", "rod ", head[place]).strip()
    nowhere = "0" if held == "level" else "-"  # points have a place: that of their stake, which is put in later
    empty, kept, line, text = [], [], [], []
    name = next(
        (number for number, heading in enumerate(headings.headings) if heading.meaning in ("point", "number")), 0
    )
    for row in range(top + 1, len(table.rows)):
        cells = table.rows[row]
        if place < len(cells) and cells[place] in EMPTY:
            if name < len(cells) and cells[name] not in EMPTY:
                empty.append(cells[name])
            continue
        if len(cells) <= place:
            cells = [*cells, *([""] * (len(head) - len(cells)))]
        kept.append([nowhere, nowhere, *cells])
        line.append(table.line[row])
        text.append(table.text[row])
    if not kept:
        what = "no stake has a reading"
        raise InputError(
            Fault(what, "a list of levels has one reading at least", "Write the readings", Source(table.file))
        )
    wide = replace(
        table,
        rows=[*table.rows[:top], ["east (m)", "north (m)", *head], *kept],
        line=[*table.line[: top + 1], *line],
        text=[*table.text[: top + 1], *text],
    )
    found = find_headings(wide)
    if found is None:  # the headings were found before two more were set in front of them
        raise AssertionError
    kind = "points" if held == "level" else "rod-list"
    columns, meanings = arrange(wide, found, kind, units)
    reading: RodList | PointList = read_points(columns)[0] if held == "level" else read_rod_list(columns)[0]
    notes = [note for note in columns.notes if "comment line" not in note]
    if empty:
        notes.append(f"without a reading, and left out: {', '.join(empty[:12])}{', ...' if len(empty) > 12 else ''}")
    column = "level" if held == "level" else "rod"
    said = columns.units_said((column,), (column,), f"{held}s")
    sentence = f"read as a list of {held}s by stake: {counted(len(reading), 'reading')}, {said}"
    return Recognised(reading, kind, sentence, "headings name stakes and readings", meanings[2:], tuple(notes)), held
