"""Which kind of table a text is, and why."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from spadework.errors import Fault, InputError, Source
from spadework.read.headings import ColumnUnit, Heading, nearest_heading, read_heading, unit_named
from spadework.read.position_kinds import position_kind
from spadework.read.table import EMPTY, NUMBERISH, RawTable, counted

__all__ = [
    "KINDS",
    "NEEDED",
    "Headings",
    "Ordered",
    "choose_kind",
    "declared_unit",
    "doubled",
    "find_grid_row",
    "find_headings",
    "read_order",
]

KINDS = (
    *("level-book", "level-net", "rod-list", "drop-grid", "points"),
    *("string-line", "slope-walk", "radial", "ties", "track"),
)
# What a table of each kind cannot do without.
NEEDED: dict[str, tuple[str, ...]] = {
    "level-book": ("point", "backsight", "foresight"),
    "level-net": ("from", "to", "rise"),
    "rod-list": ("east", "north", "rod"),
    "points": ("east", "north", "level"),
    "string-line": ("string", "distance", "drop"),
    "slope-walk": ("from", "to", "distance", "slope"),
    "radial": ("setup", "point", "direction", "distance"),
    "ties": ("point", "from", "distance"),
    "track": ("latitude", "longitude"),
}
ORDER_LETTERS = {
    "P": "point",
    "E": "east",
    "N": "north",
    "Z": "level",
    "D": "note",
    "R": "rod",
    "S": "setup",
    "B": "backsight",
    "I": "intermediate",
    "F": "foresight",
    "K": "known",
    "-": "",
}
INCLINED = frozenset(("slope", "vertical", "zenith", "direction", "bearing"))
FIRST_ROWS = 12
DECLARED = re.compile(r"(?:all\s+)?(?:units?|lengths?)\s*(?:[:=]|are|is|in)\s*(?:in\s+)?(.+)", re.IGNORECASE)


@dataclass(frozen=True)
class Headings:
    """The row of headings of a table.

    Parameters
    ----------
    row : int
        Its place among the rows.
    headings : tuple of Heading
        One for each column.
    """

    row: int
    headings: tuple[Heading, ...]

    @property
    def written(self) -> str:
        """The headings as a message shows them."""
        names = [heading.text[:40] or "(blank)" for heading in self.headings]
        return ", ".join(names[:20]) + (f" and {len(names) - 20} more" if len(names) > 20 else "")

    @property
    def meanings(self) -> frozenset[str]:
        """Every meaning that was recognised."""
        return frozenset(heading.meaning for heading in self.headings if heading.meaning)


@dataclass(frozen=True)
class Ordered:
    """The order of the columns as the user gave it.

    Parameters
    ----------
    meanings : tuple of str
        One for each column; empty for a column that is not used.
    text : str
        As given.
    """

    meanings: tuple[str, ...]
    text: str


def read_order(text: str) -> Ordered:
    """Return the columns that ``P,N,E,Z,D`` or ``PNEZD`` names.

    Raises
    ------
    InputError
        A letter is unknown or stands twice.
    """
    letters = [letter for letter in text.upper() if letter not in ", ;"]
    known = ", ".join(f"{letter} {meaning}" for letter, meaning in ORDER_LETTERS.items() if meaning)
    faults = []
    for letter in dict.fromkeys(letters):
        if letter not in ORDER_LETTERS:
            what = f"the order {text!r} has the letter {letter!r}"
            faults.append(Fault(what, f"the letters are {known}, and - for a column not used", "correct the order"))
        elif letter != "-" and letters.count(letter) > 1:
            what = f"the order {text!r} has the letter {letter!r} twice"
            faults.append(Fault(what, "each letter stands for one column", "write - for a column not used"))
    if not letters:
        faults.append(Fault("the order is empty", f"the letters are {known}", "write the columns as in P,N,E,Z,D"))
    if faults:
        raise InputError(faults)
    return Ordered(tuple(ORDER_LETTERS[letter] for letter in letters), text)


def find_headings(table: RawTable) -> Headings | None:
    """Return the first row near the top that has two headings or more and no number, or None."""
    weak = None
    for row, cells in enumerate(table.rows[:FIRST_ROWS]):
        if len(cells) < 2 or any(NUMBERISH.match(cell) for cell in cells):
            continue
        headings = tuple(read_heading(cell) for cell in joined_units(cells))
        found = len({heading.meaning for heading in headings if heading.meaning})
        if found >= 2:
            return Headings(row, headings)
        if weak is None and found == 1:
            weak = Headings(row, headings)
    return weak


def joined_units(cells: Sequence[str]) -> list[str]:
    """Return headings with a unit that stands by itself joined to the one before: ``rod, ft-in`` between commas."""
    joined: list[str] = []
    for cell in cells:
        if joined and read_heading(joined[-1]).is_length and unit_named(cell.strip("()[] ")):
            joined[-1] = f"{joined[-1]}, {cell}"
        else:
            joined.append(cell)
    return joined


def find_grid_row(table: RawTable) -> int | None:
    """Return the row of distances across of a block of drops, or None where the table is none.

    The row has numbers in all cells but the first, which is empty or a word (or which is missing altogether), and the
    row below begins with a number.
    """
    for row, cells in enumerate(table.rows[:FIRST_ROWS]):
        below = table.rows[row + 1] if row + 1 < len(table.rows) else []
        if not below or not NUMBERISH.match(below[0]):
            continue
        rest = [cell for cell in cells[1:] if cell not in EMPTY]
        if rest and 2 * len(rest) >= len(cells) - 1 and all(NUMBERISH.match(cell) for cell in rest):
            if not NUMBERISH.match(cells[0]):
                return row
            if len(below) == len(cells) + 1:
                return row
    return None


def declared_unit(table: RawTable, before: int) -> ColumnUnit | None:
    """Return the unit that a comment or a title line declares: ``# units: decimal feet``.

    Raises
    ------
    InputError
        Two lines declare different units, or one declares what is no unit.
    """
    lines = [*table.comments, *((table.line[row], table.text[row].strip()) for row in range(before))]
    found: tuple[int, ColumnUnit] | None = None
    for number, text in sorted(lines):
        declared = DECLARED.fullmatch(text.rstrip(" ."))
        if not declared:
            continue
        unit = unit_named(declared.group(1))
        if unit is None:
            if not re.search(r"[:=]", text):
                continue
            what = f"{declared.group(1)!r} is declared as the unit and is none"
            remedy = "write units: m, mm, ft, decimal ft, ft-in or in"
            raise InputError(Fault(what, "lengths are in metres or feet", remedy, Source(table.file, number)))
        if found and found[1] != unit:
            what = f"the line declares {unit.label}, line {found[0]} declares {found[1].label}"
            raise InputError(Fault(what, "a file declares one unit", "remove one", Source(table.file, number)))
        found = found or (number, unit)
    return found[1] if found else None


def choose_kind(table: RawTable, headings: Headings, kind: str | None) -> tuple[str, str]:
    """Return the kind of a table with headings, and the reason.

    Raises
    ------
    InputError
        The headings suit no kind, or lack what the wanted kind needs.
    """
    meanings = headings.meanings
    if kind is not None:
        return kind, "kind given"
    seen = f"headings in line {table.line[headings.row]}"
    if {"bsupper", "bslower", "fsupper", "fslower"} <= meanings:
        return "level-book", f"{seen} name the stadia wires of backsights and foresights"
    if len(meanings & {"backsight", "intermediate", "foresight"}) >= 2:
        return "level-book", f"{seen} name backsights and foresights"
    if {"from", "to"} <= meanings and meanings & {"rise", "fall", "difference"} and not meanings & INCLINED:
        return "level-net", f"{seen} name the two ends of lines and what they rise"
    if found := position_kind(table, headings):
        return found[0], f"{seen} {found[1]}"
    if {"east", "north", "rod"} <= meanings:
        return "rod-list", f"{seen} name positions and rod readings"
    if {"east", "north", "level"} <= meanings and "rod" not in meanings:
        return "points", f"{seen} name positions and levels"
    if {"point", "east", "north"} <= meanings and all(heading.meaning for heading in headings.headings):
        return "points", f"{seen} name positions and nothing else"
    claims = [(heading.text, heading.meaning) for heading in headings.headings]
    raise InputError([*doubled(table, headings.row, claims), not_understood(table, headings)])


def doubled(table: RawTable, row: int, claims: Sequence[tuple[str, str]]) -> list[Fault]:
    """Return a fault for each meaning that two headings claim; remarks may be spread over several columns."""
    faults = []
    for meaning in dict.fromkeys(meaning for _, meaning in claims if meaning not in ("", "note")):
        places = [f"{text!r} (column {place})" for place, (text, mine) in enumerate(claims, 1) if mine == meaning]
        if len(places) > 1:
            what = f"{counted(len(places), 'heading')} mean {meaning}: {' and '.join(places)}"
            rule = "each meaning has one column"
            faults.append(Fault(what, rule, "rename or remove one of them", table.source(row)))
    return faults


def not_understood(table: RawTable, headings: Headings) -> Fault:
    """Return why no kind suits, with the kind that comes nearest and what it lacks."""
    meanings = headings.meanings
    source = table.source(headings.row)
    written = headings.written
    if one := {"latitude", "longitude"} & meanings:
        other = ({"latitude", "longitude"} - one).pop()
        what = f"the headings ({written}) give {one.pop()} without {other}"
        return Fault(what, "a place on the Earth is latitude and longitude", f"add a column {other}", source)
    if {"station", "number"} & meanings:
        meanings |= {"point"}
    lacking = {kind: [name for name in needed if name not in meanings] for kind, needed in NEEDED.items()}
    fewest = min(len(names) for names in lacking.values())
    return lacking_columns(table, headings, {kind: names for kind, names in lacking.items() if len(names) == fewest})


def missing_columns(table: RawTable, headings: Headings, kind: str) -> Fault | None:
    """Return the fault of columns that a kind needs and the headings lack, or None."""
    lacking = [name for name in NEEDED.get(kind, ()) if name not in headings.meanings]
    return lacking_columns(table, headings, {kind: lacking}) if lacking else None


def lacking_columns(table: RawTable, headings: Headings, lacking: dict[str, list[str]]) -> Fault:
    """Return the fault of columns that some kinds need and the headings lack."""
    written = headings.written
    names = list(dict.fromkeys(" and ".join(names) for names in lacking.values()))
    what = f"no column is headed {' or '.join(names)} (headings: {written})"
    needs = [f"{kind} needs {', '.join(NEEDED[kind][:-1])} and {NEEDED[kind][-1]}" for kind in lacking]
    remedy = "name the columns, or say which kind of table it is"
    wanted = tuple(dict.fromkeys(name for names in lacking.values() for name in names))
    for heading in headings.headings:
        near = "" if heading.meaning else nearest_heading(heading.text, wanted)
        if near:
            remedy = f"did you mean {near} by {heading.text!r}? Name the column so"
            break
    return Fault(what, f"the kind {', the kind '.join(needs)}", remedy, table.source(headings.row))


def without_headings(table: RawTable, kind: str | None) -> Fault:
    """Return what is needed of a table that has no row of headings."""
    cells = table.rows[0]
    source = table.source(0)
    numbers = sum(1 for cell in cells if NUMBERISH.match(cell))
    shown = table.text[0].strip()[:60]
    if len([cell for cell in cells if cell]) < 2 and len(table.rows) > 1 and len([c for c in table.rows[1] if c]) > 1:
        what = f"the headings {shown!r} are not parted by {table.separator.name}, as the rows below them are"
        rule = "headings and rows have the same separator"
        return Fault(what, rule, "part the headings as the rows are parted", source)
    if len([cell for cell in cells if cell]) < 2:
        what = f"the line {shown!r} does not fall into columns"
        rule = "columns are separated by commas, semicolons, tabs, bars or spaces, below a row of headings"
        return Fault(what, rule, "give a table such as: point, east (m), north (m), rod (m)", source)
    if numbers < len(cells) - 1 and kind is None and not numbers:
        what = f"none of the headings is known: {', '.join(cells)[:80]}"
        rule = "a row of headings names its columns, as point, east, north, rod or point, BS, IS, FS"
        return Fault(what, rule, "rename the columns", source)
    what = f"the table has no row of headings: it begins with {shown!r}"
    rule = f"which of its {counted(len(cells), 'column')} is east and which north cannot be told from numbers"
    remedy = "write a row of headings, or give the kind and the order of columns, as points and order P,N,E,Z,D"
    if numbers == len(cells):
        remedy += (
            "; for a grid of drops write a word into the corner cell and separate cells by tabs, bars or two spaces"
        )
    return Fault(what, rule, remedy, source)


def refuse_numbers_above(table: RawTable, before: int, what_follows: str) -> list[str]:
    """Return the note on title lines above the headings; raise where one of them holds a row of numbers."""
    faults = []
    for row in range(before):
        if sum(1 for cell in table.rows[row] if NUMBERISH.match(cell)) >= 2 and not DECLARED.fullmatch(
            table.text[row].strip()
        ):
            what = f"the line stands above {what_follows} and looks like a row: {table.text[row].strip()[:60]!r}"
            faults.append(Fault(what, "rows stand below their headings", "move or remove it", table.source(row)))
    if faults:
        raise InputError(faults)
    titles = [f"{table.text[row].strip()[:40]!r}" for row in range(before)]
    return [f"read as title: {', '.join(titles)}"] if titles else []


def is_blank(cells: Sequence[str]) -> bool:
    """Say whether a row has nothing in any cell."""
    return all(cell in EMPTY for cell in cells)
