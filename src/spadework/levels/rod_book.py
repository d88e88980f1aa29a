"""Put the rows of a rod list in the order of a level book: which reading opens each set-up, and which ends it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from spadework.errors import Fault, InputError
from spadework.levels.rod_range import rods_out_of_range
from spadework.levels.same_points import SamePoints, same_points
from spadework.levels.setups import NAMELESS
from spadework.levels.wording import Wording, did_you_mean, line_range, name_key, plural
from spadework.readings import FloatArray, IntArray, LevelBook, RodList

__all__ = ["ArrangedRods", "arrange_rods"]

NONE = -1
MOST_NAMED = 8


@dataclass
class _Standing:
    """One set-up while the book is put together: its rows, and which of them opens and which ends it."""

    name: str
    rows: list[int]
    opens: int = NONE
    ends: int = NONE


@dataclass(frozen=True)
class _Entry:
    """One row of the book: rows of the rod list that give its backsight, intermediate sight and foresight."""

    backsight: int = NONE
    intermediate: int = NONE
    foresight: int = NONE

    @property
    def row(self) -> int:
        """Row that names it: the sight, or the backsight where there is none."""
        return max(self.intermediate, self.foresight) if max(self.intermediate, self.foresight) >= 0 else self.backsight


def _standings(rods: RodList) -> list[_Standing]:
    """Set-ups in the order in which they first come, each with the rows that have a reading."""
    found: dict[str, _Standing] = {}
    for row in np.flatnonzero(np.isfinite(rods.rod)).tolist():
        standing = found.setdefault(name_key(rods.setup[row]), _Standing(rods.setup[row], []))
        standing.rows.append(row)
    return list(found.values())


def _tie(standing: _Standing, identity: list[int], levelled: set[int], known_rows: set[int]) -> int:
    """First row of a set-up that reads a point whose level is known or comes from an earlier set-up."""
    return next((row for row in standing.rows if row in known_rows or identity[row] in levelled), NONE)


def _in_order_of_ties(standings: list[_Standing], identity: list[int], known_rows: set[int]) -> list[_Standing]:
    """Order set-ups so that each opens on a point already levelled; leave out those that nothing ties."""
    waiting = list(standings)
    ordered: list[_Standing] = []
    levelled: set[int] = set()
    while True:
        for standing in waiting:
            standing.opens = _tie(standing, identity, levelled, known_rows)
            if standing.opens >= 0:
                break
        else:
            return ordered
        ordered.append(standing)
        waiting.remove(standing)
        levelled.update(identity[row] for row in standing.rows if identity[row] != NAMELESS)


def _end_standings(ordered: list[_Standing], identity: list[int], known_rows: set[int]) -> None:
    """Choose each set-up's foresight: the point on which the next one opens, else the last reading on a known point."""
    for place, standing in enumerate(ordered):
        others = [row for row in standing.rows if row != standing.opens]
        following = ordered[place + 1] if place + 1 < len(ordered) else None
        if following is not None and following.opens not in known_rows:
            passed = [row for row in others if identity[row] == identity[following.opens]]
            if passed:
                standing.ends = passed[-1]
                continue
        closing = [row for row in others if row in known_rows]
        standing.ends = closing[-1] if closing else NONE


def _entries(ordered: list[_Standing], identity: list[int], known_rows: set[int]) -> list[_Entry]:
    entries: list[_Entry] = []
    for standing in ordered:
        opens = standing.opens
        turning = (
            bool(entries)
            and entries[-1].foresight >= 0
            and opens not in known_rows
            and identity[entries[-1].foresight] == identity[opens]
        )
        if turning:
            entries[-1] = replace(entries[-1], backsight=opens)
        else:
            entries.append(_Entry(backsight=opens))
        entries += [_Entry(intermediate=row) for row in standing.rows if row not in {opens, standing.ends}]
        if standing.ends >= 0:
            entries.append(_Entry(foresight=standing.ends))
    return entries


def _untied(
    rods: RodList, standings: list[_Standing], ordered: list[_Standing], known: Mapping[str, float]
) -> Iterator[Fault]:
    """Set-ups that read neither a known point nor one of another set-up."""
    if standings and not ordered:
        names = [rods.point[row] for standing in standings for row in standing.rows]
        hints = [hint for name in known if (hint := did_you_mean(name, names))]
        given = f": {', '.join(known)} is not read in it" if known else ""
        yield Fault(
            what=f"no point of the rod list {rods.file} has a known level{given}".replace("  ", " "),
            rule="levels are counted from a bench mark",
            remedy="Read a bench mark from one of the set-ups and give its level, known or assumed"
            + (f". {hints[0]}" if hints else ""),
            source=rods.source(standings[0].rows[0]),
        )
        return
    tied = [rods.point[row] for standing in ordered for row in standing.rows if not rods.point[row].isdigit()]
    for standing in standings:
        if standing.opens >= 0:
            continue
        first, last = standing.rows[0], standing.rows[-1]
        lines = line_range(int(rods.line[first]), int(rods.line[last]))
        named = [rods.point[row] for row in standing.rows if not rods.point[row].isdigit()][:MOST_NAMED]
        hints = [hint for name in named if (hint := did_you_mean(name, [*known, *tied]))]
        yield Fault(
            what=f"set-up {standing.name or 'without a name'} ({lines}, {plural(len(standing.rows), 'reading')}) "
            "is tied to nothing",
            rule="every set-up reads a bench mark or a point levelled from another set-up",
            remedy="Read the bench mark or a turning point of an earlier set-up, under the same name"
            + (f". {hints[0]}" if hints else ""),
            source=rods.source(first, "setup"),
        )


@dataclass(frozen=True)
class ArrangedRods:
    """A rod list as a book: the book, the point of each of its rows, and the book's row of each row of the list."""

    book: LevelBook
    identity: IntArray
    book_row: IntArray
    points: SamePoints


def _column(rods: RodList, rows: list[int]) -> FloatArray:
    index = np.array(rows, dtype=np.int64)
    return np.where(index >= 0, rods.rod[index], np.nan)


def arrange_rods(rods: RodList, known: Mapping[str, float], rod_length: float, words: Wording) -> ArrangedRods:
    """Put the rows of a rod list in the order of a level book, or say everything that stands against it."""
    points = same_points(rods, known, words)
    known_keys = {name_key(name) for name in known}
    identity = points.identity.tolist()
    standings = _standings(rods)
    known_rows = {row for standing in standings for row in standing.rows if name_key(rods.point[row]) in known_keys}
    ordered = _in_order_of_ties(standings, identity, known_rows)
    faults = [
        *points.faults,
        *rods_out_of_range(rods.rod, lambda row: rods.source(row, "rod"), "rod reading", words, rod_length),
        *_untied(rods, standings, ordered, known),
    ]
    if not standings:
        faults.append(
            Fault(
                what=f"the rod list {rods.file} has no rod reading".replace("  ", " "),
                rule="a shot has a rod reading",
                remedy="Check that the column of rod readings was recognised",
            )
        )
    if faults:
        raise InputError(sorted(faults, key=lambda fault: fault.source.line or 0))
    _end_standings(ordered, identity, known_rows)
    entries = _entries(ordered, identity, known_rows)
    rows = [entry.row for entry in entries]
    blank = np.full(len(entries), np.nan)
    book = LevelBook(
        point=tuple(rods.point[row] for row in rows),
        backsight=_column(rods, [entry.backsight for entry in entries]),
        intermediate=_column(rods, [entry.intermediate for entry in entries]),
        foresight=_column(rods, [entry.foresight for entry in entries]),
        known=blank,
        distance=blank.copy(),
        note=tuple(rods.note[row] for row in rows),
        line=rods.line[rows],
        file=rods.file,
        reading_resolution=rods.reading_resolution,
    )
    book_row = np.full(len(rods), NONE, dtype=np.int64)
    for place, entry in enumerate(entries):
        for row in (entry.backsight, entry.intermediate, entry.foresight):
            if row >= 0:
                book_row[row] = place
    return ArrangedRods(book, points.identity[rows], book_row, points)
