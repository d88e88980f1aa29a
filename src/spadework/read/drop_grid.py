"""Drop grids: a block of drops below a level line, with distances across above it and along beside it."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.read.headed import Column, cells_to_metres, find_decimal_comma, no_unit, written_step
from spadework.read.headings import UNIT_OF_SITE, ColumnUnit, Heading, cut_unit, read_heading, unit_named
from spadework.read.plausible import LONGEST_ROD
from spadework.read.recognise import declared_unit, find_grid_row, is_blank, refuse_numbers_above
from spadework.read.recognised import ColumnMeaning, Recognised
from spadework.read.table import EMPTY, NUMBERISH, RawTable, counted
from spadework.readings import DropGrid, FloatArray, IntArray
from spadework.units import LengthUnit

__all__ = ["read_drop_grid"]

SHAPE = (
    "a drop grid has distances across in its first row, distances along in its first column, "
    "an empty cell or a word in its corner, and a drop in every other cell"
)


@dataclass(frozen=True)
class Block:
    """The cells of a grid, cut square."""

    corner: str
    across: list[str]
    along: list[str]
    drops: list[list[str]]
    line: IntArray
    top: int


def read_drop_grid(table: RawTable, units: LengthUnit | None, reason: str) -> Recognised:
    """Return a drop grid.

    Parameters
    ----------
    table : RawTable
        All rows.
    units : LengthUnit, optional
        Unit of plain numbers where neither the corner cell nor a line of the file says.
    reason : str
        Why the text is taken for a drop grid.

    Returns
    -------
    Recognised
        The grid in metres, with its sentence.

    Raises
    ------
    InputError
        Every cell at fault, unequal rows, distances that do not go one way.
    """
    block, notes = cut_block(table)
    top = table.line[block.top]
    distance_unit, drop_unit, said = grid_units(block.corner, declared_unit(table, block.top), units)
    flat = [cell for row in block.drops for cell in row]
    flat_line = np.repeat(block.line, len(block.across))
    axes = [(block.across, np.full(len(block.across), top)), (block.along, block.line), (flat, flat_line)]
    for (cells, line), unit in zip(axes, (distance_unit, distance_unit, drop_unit), strict=True):
        if fault := no_unit([Column(Heading(""), cells, unit)], line, table.file):
            remedy = "name the unit in the corner cell, as drop (ft-in), or say the units of the whole site"
            raise InputError(dataclasses.replace(fault, remedy=remedy))
    comma = decimal_comma_of(axes, table.file)
    faults: list[Fault] = []

    def metres(part: int, under: str | Sequence[str], unit: ColumnUnit | None) -> FloatArray:
        cells, line = axes[part]
        return grid_cells(cells, line, under, unit=unit, said=said, comma=comma, file=table.file, faults=faults)

    across = metres(0, block.across, distance_unit)
    along = metres(1, "distance along", distance_unit)
    drop = metres(2, block.across * len(block.along), drop_unit)
    if not faults:
        across_sources = [Source(table.file, top, f"distance across {text}") for text in block.across]
        along_sources = [Source(table.file, int(line), "distance along") for line in block.line]
        faults += distance_faults(across, block.across, across_sources) + distance_faults(
            along, block.along, along_sources
        )
    faults += deep_faults(drop, flat, flat_line, block, table.file)
    if not faults and not np.isfinite(drop).any():
        faults.append(Fault("no drop is filled in", SHAPE, "write the drops", table.source(block.top)))
    if faults:
        raise InputError(sorted(dict.fromkeys(faults), key=lambda fault: fault.source.line or 0))
    step = written_step(flat, drop_unit)
    shape = (len(along), len(across))
    grid = DropGrid(across, along, drop.reshape(shape), block.line, table.file, 0.001 if step is None else step)
    parts = [f"{len(along)} rows of {counted(len(across), 'drop')}"]
    if empty := int(np.isnan(drop).sum()):
        parts.append(f"{empty} not measured")
    labels = [unit_label(drop_unit, flat), unit_label(distance_unit, [*block.across, *block.along])]
    parts.append(" and ".join(dict.fromkeys(labels)))
    if comma:
        notes.append("numbers have decimal commas")
    why = "first row and first column are distances"
    columns = (
        ColumnMeaning(block.corner or "(corner)", "distance along", labels[1], why),
        *(ColumnMeaning(text, "drop", labels[0], why) for text in block.across),
    )
    return Recognised(grid, "drop-grid", f"read as drop-grid: {', '.join(parts)}", reason, columns, tuple(notes))


def cut_block(table: RawTable) -> tuple[Block, list[str]]:
    """Return the cells of the grid; raise with every row that has more or fewer cells than there are distances."""
    top = find_grid_row(table)
    if top is None:
        found = table.text[0].strip()[:60]
        remedy = (
            "leave the corner cell empty or write a word into it; separate cells by tabs, bars, commas or two spaces"
        )
        raise InputError(
            Fault(f"no row of distances across was found, from {found!r} on", SHAPE, remedy, table.source(0))
        )
    notes = list(table.notes) + refuse_numbers_above(table, top, "the distances across")
    cells = list(table.rows[top])
    corner = cells.pop(0) if not NUMBERISH.match(cells[0]) else ""
    while cells and cells[-1] == "":
        cells.pop()
    along, drops, lines = [], [], []
    faults = []
    for row in range(top + 1, len(table.rows)):
        label, *values = table.rows[row]
        while len(values) > len(cells) and values[-1] == "":
            values.pop()
        if is_blank([label, *values]):
            continue
        if len(values) != len(cells):
            what = (
                f"the row has {counted(len(values), 'drop')} where there are {counted(len(cells), 'distance')} across"
            )
            remedy = "write - where nothing was measured; separate cells with inner spaces by tabs, bars or two spaces"
            faults.append(Fault(what, "every row of a grid has the same number of cells", remedy, table.source(row)))
        elif label in EMPTY:
            what = "the row has no distance along"
            faults.append(Fault(what, "the first cell of a row is its distance", "write it", table.source(row)))
        along.append(label)
        drops.append(values)
        lines.append(table.line[row])
    if faults:
        raise InputError(faults)
    return Block(corner, cells, along, drops, np.array(lines, dtype=np.int64), top), notes


def grid_units(
    corner: str, declared: ColumnUnit | None, units: LengthUnit | None
) -> tuple[ColumnUnit | None, ColumnUnit | None, bool]:
    r"""Return the units of distances and of drops, and whether the file says them.

    The corner cell may name one unit for all, ``drop (in)``, or two, ``across, along (ft) \ drop (in)``.
    """
    distance = drop = alone = None
    for part in re.split(
        r"[\\|]|/(?=\s*\w{3})|[,;](?=\s*(?:drop|down|across|along|dist))", corner, flags=re.IGNORECASE
    ):
        unit = unit_named(part) or read_heading(part).unit or cut_unit(part)[1]
        if unit is None:
            continue
        if re.search(r"drop|down|depth|below", part, re.IGNORECASE):
            drop = unit
        elif re.search(r"across|along|dist|east|north|tape", part, re.IGNORECASE):
            distance = unit
        else:
            alone = unit
    said = distance or drop or alone or declared
    if said is None:
        other = UNIT_OF_SITE[units] if units is not None else None
        return other, other, False
    fallback = alone or declared or said
    return distance or fallback, drop or fallback, True


def decimal_comma_of(parts: Sequence[tuple[Sequence[str], IntArray]], file: str) -> bool:
    """Say whether the numbers of the grid have decimal commas; raise where some have and some have not."""
    cells = [cell for texts, _ in parts for cell in texts]
    lines = np.concatenate([line for _, line in parts])
    return find_decimal_comma([Column(Heading("drops"), cells)], lines, file)


def grid_cells(
    cells: Sequence[str],
    line: IntArray,
    under: str | Sequence[str],
    *,
    unit: ColumnUnit | None,
    said: bool,
    comma: bool,
    file: str,
    faults: list[Fault],
) -> FloatArray:
    """Return some cells of the grid in metres, and gather their faults. [m]"""
    heading = under if isinstance(under, str) else [f"at {text} across" for text in under]
    values, found = cells_to_metres(
        cells, line, file=file, heading=heading, unit=unit, from_heading=said, decimal_comma=comma
    )
    faults.extend(found)
    return values


def distance_faults(distances: FloatArray, texts: Sequence[str], sources: Sequence[Source]) -> list[Fault]:
    """Return a fault for each distance that is missing, negative, or does not go on the way the others go."""
    faults = []
    steps = np.diff(distances)
    way = np.sign(np.nansum(np.sign(steps))) or 1.0
    for place, (text, source) in enumerate(zip(texts, sources, strict=True)):
        if np.isnan(distances[place]):
            faults.append(
                Fault("the distance is empty", "a grid has no gap in its distances", "write it", source, text)
            )
        elif distances[place] < 0:
            what = f"the distance {text} is negative"
            faults.append(
                Fault(what, "distances are taped from the grid's corner, from 0 on", "correct it", source, text)
            )
        elif place and not steps[place - 1] * way > 0:
            what = f"the distance {text} comes after {texts[place - 1]}"
            faults.append(Fault(what, "distances go one way, each once", "correct it or sort the grid", source, text))
    return faults


def deep_faults(drop: FloatArray, flat: Sequence[str], line: IntArray, block: Block, file: str) -> list[Fault]:
    """Return a fault for each drop deeper than any rod reaches."""
    rule = f"a drop is measured with a rod or tape and lies within {LONGEST_ROD:g} m ({LONGEST_ROD / 0.3048:.0f} ft)"
    width = len(block.across)
    return [
        Fault(
            f"the drop {flat[place]} is too large",
            rule,
            "correct the drop or its unit",
            Source(file, int(line[place]), f"at {block.across[place % width]} across"),
            flat[place],
        )
        for place in np.flatnonzero(np.abs(drop) > LONGEST_ROD).tolist()
    ]


def unit_label(unit: ColumnUnit | None, cells: Sequence[str]) -> str:
    """Return a unit in words; that of the cells where each names its own."""
    if unit is not None:
        return unit.label
    marked = any("'" in cell or '"' in cell for cell in cells)
    return "feet and inches" if marked else "units in the cells"
