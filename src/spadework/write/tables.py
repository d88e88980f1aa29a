"""Tables for spreadsheets and programs: stakes, depths and levels, with the unit in the heading of each column.

One heading line, then rows, by RFC 4180. What belongs to the whole sheet stands in the last columns: site, date, datum
and overridden rules in every row, how the numbers were got and the cautions in the first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from spadework.plan import Plan
from spadework.stakeout import depth_mark
from spadework.units import LengthUnit, format_length, unit_label

if TYPE_CHECKING:
    import pandas as pd

from spadework.write.sheet_words import grid_start

__all__ = ["csv_bytes", "depths_table", "levels_table", "stakes_table", "whole_sheet"]

FINER = {LengthUnit.METRE: 4, LengthUnit.FOOT: 3, LengthUnit.FOOT_INCH: 16}
"""Step of levels and their corrections, one finer than of other lengths, as `format_length` takes it."""


def csv_bytes(table: pd.DataFrame) -> bytes:
    """Return a table as a CSV file.

    Parameters
    ----------
    table : DataFrame
        Columns of text.

    Returns
    -------
    bytes
        UTF-8, fields quoted where they must be, lines that end in CR LF.

    References
    ----------
    RFC 4180, "Common format and MIME type for comma-separated values files", section 2.
    """
    return table.to_csv(index=False, lineterminator="\r\n").encode("utf-8")


def stakes_table(plan: Plan) -> pd.DataFrame:
    """Return one row for each stake: where it stands, how it is taped and what to do there.

    Parameters
    ----------
    plan : Plan
        The plan. Grade rods are there where the plan has a height of instrument.
    """
    marked, hi = plan.stakeout.all_stakes, plan.stakeout.hi
    lengths = _Lengths(plan.units)
    columns: dict[str, Sequence[str]] = {
        "stake": [stake.name for stake in marked],
        lengths.heading("east"): lengths.text(stake.east for stake in marked),
        lengths.heading("north"): lengths.text(stake.north for stake in marked),
        lengths.heading("ground"): lengths.text((stake.ground_level for stake in marked), blank=True),
        lengths.heading("stripped ground"): lengths.text((stake.stripped_level for stake in marked), blank=True),
        lengths.heading("formation"): lengths.text(stake.formation for stake in marked),
        lengths.heading("finish"): lengths.text(stake.finish for stake in marked),
        "mark": [depth_mark(stake.depth, plan.units) for stake in marked],
        lengths.heading("cut after strip"): lengths.text((stake.cut for stake in marked), blank=True),
        lengths.heading("fill after strip"): lengths.text((stake.fill for stake in marked), blank=True),
        lengths.heading("dig in all"): lengths.text((stake.dig for stake in marked), blank=True),
    }
    for row, (name, _, _) in enumerate(plan.stakeout.references):
        columns[lengths.heading(f"tie from {name}")] = lengths.text(stake.ties[row].distance for stake in marked)
    if len(plan.stakeout.references) >= 2:
        first, second = (name for name, _, _ in plan.stakeout.references[:2])
        columns[f"side of the line from {first} to {second}"] = [stake.side for stake in marked]
        columns["ties cross at [deg]"] = [_whole(stake.crossing) for stake in marked]
        columns["third tie from"] = [stake.third.reference if stake.third else "" for stake in marked]
        columns[lengths.heading("third tie")] = lengths.text(
            (stake.third.distance if stake.third else math.nan for stake in marked), blank=True
        )
        finer = _Lengths(plan.units, FINER[plan.units])
        columns[lengths.heading("expected error")] = finer.text((s.expected_error for s in marked), blank=True)
    columns["kind"] = [stake.kind for stake in marked]
    columns["measured from corner"] = [stake.of for stake in marked]
    columns[lengths.heading("distance from that corner")] = lengths.text(
        (stake.away if stake.of else math.nan for stake in marked), blank=True
    )
    place = {name: row for row, name in enumerate(plan.stakeout.order, 1)}
    columns["set as number"] = [str(place.get(stake.name, "")) for stake in marked]
    if plan.confidence is not None:
        finer = _Lengths(plan.units, FINER[plan.units])
        doubt = {stake.name: stake for stake in plan.confidence.stakes}
        found = [doubt.get(stake.name) for stake in marked]
        columns[lengths.heading("expected ground above formation")] = finer.text(
            (math.nan if one is None else one.expected for one in found), blank=True
        )
        columns[lengths.heading("mark good to")] = finer.text(
            (math.nan if one is None else one.give_or_take for one in found), blank=True
        )
    if hi is not None:
        columns[lengths.heading("HI")] = lengths.text(hi for _ in marked)
        columns[lengths.heading("grade rod formation")] = lengths.text(stake.grade_rod(hi) for stake in marked)
        columns[lengths.heading("grade rod finish")] = lengths.text(stake.finish_rod(hi) for stake in marked)
    return whole_sheet(plan, columns)


def depths_table(plan: Plan) -> pd.DataFrame:
    """Return the cut sheet: one row for each point of the depth grid that lies on the pad.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    grid, lengths = plan.stakeout.grid, _Lengths(plan.units)
    across, along = np.nonzero(np.isfinite(grid.ground_level))
    places = (across, along)
    depth = grid.depth[places]
    columns: dict[str, Sequence[str]] = {
        lengths.heading(f"along from {grid_start(plan)}"): lengths.text(grid.along[along]),
        lengths.heading(f"across from {grid_start(plan)}"): lengths.text(grid.across[across]),
        lengths.heading("east"): lengths.text(grid.east[places]),
        lengths.heading("north"): lengths.text(grid.north[places]),
        lengths.heading("ground"): lengths.text(grid.ground_level[places]),
        lengths.heading("formation"): lengths.text(grid.formation for _ in along),
        "mark": [depth_mark(float(value), plan.units) for value in depth],
        lengths.heading("cut after strip"): lengths.text(np.maximum(depth, 0.0)),
        lengths.heading("fill after strip"): lengths.text(np.maximum(-depth, 0.0)),
        lengths.heading("dig in all"): lengths.text(grid.dig[places]),
        **{
            lengths.heading(f"tie from {name}"): lengths.text(grid.ties(ref_east, ref_north)[places])
            for name, ref_east, ref_north in plan.stakeout.references
        },
    }
    if plan.confidence is not None:
        points = np.column_stack([grid.east[places], grid.north[places]])
        mean, sd = plan.confidence.process.mean_sd(points)
        finer = _Lengths(plan.units, FINER[plan.units])
        columns[lengths.heading("mark good to")] = finer.text(np.hypot(sd, mean - grid.ground_level[places]))
    return whole_sheet(plan, columns)


def levels_table(plan: Plan) -> pd.DataFrame:
    """Return the level books as reduced, row by row; without any, the shots with their levels.

    Parameters
    ----------
    plan : Plan
        The plan. Ground from a raster has neither, and the table no rows.
    """
    lengths = _Lengths(plan.units, FINER[plan.units])
    rows = list(_book_rows(plan) if plan.levels else _shot_rows(plan))
    names = ("BS", "IS", "FS", "HI", "rise", "fall", "first level", "correction", "level", "sd", "east", "north")
    columns: dict[str, Sequence[str]] = {"point": [point for point, _, _ in rows]}
    for i, name in enumerate(names):
        columns[lengths.heading(name)] = lengths.text((values[i] for _, values, _ in rows), blank=True)
    for i, name in enumerate(("note", "file", "line")):
        columns[name] = [words[i] for _, _, words in rows]
    return whole_sheet(plan, columns)


class _Lengths:
    """Prints columns of lengths in one unit."""

    def __init__(self, unit: LengthUnit, step: int | None = None) -> None:
        self.unit = unit
        self.step = step

    def heading(self, name: str) -> str:
        """Return the heading of a column, with its unit."""
        return f"{name} [{unit_label(self.unit)}]"

    def text(self, metres: Iterable[float], *, blank: bool = False) -> list[str]:
        """Return each length as text; with ``blank``, nothing where there is none."""
        return [
            ""
            if blank and not math.isfinite(value)
            else format_length(float(value), self.unit, step=self.step, with_unit=False)
            for value in metres
        ]


_Row = tuple[str, tuple[float, ...], tuple[str, str, str]]


def _book_rows(plan: Plan) -> Iterable[_Row]:
    """Yield the rows of every level book, with the position of a point whose name is unique."""
    for reduced in plan.levels:
        book = reduced.book
        readings = np.column_stack(
            [
                book.backsight,
                book.intermediate,
                book.foresight,
                reduced.hi,
                reduced.rise,
                reduced.fall,
                reduced.initial,
                reduced.correction,
                reduced.level,
                np.full(len(book), np.nan) if reduced.level_sd is None else reduced.level_sd,
            ]
        )
        for row, point in enumerate(book.point):
            found = plan.shots.rows(point) if plan.shots is not None and point else []
            place = (math.nan, math.nan)
            if plan.shots is not None and len(found) == 1:
                place = (float(plan.shots.east[found[0]]), float(plan.shots.north[found[0]]))
            yield point, (*readings[row], *place), (book.note[row], book.file, str(book.line[row]))


def _shot_rows(plan: Plan) -> Iterable[_Row]:
    """Yield a row for each shot."""
    if plan.shots is None:
        return
    shots, none = plan.shots, (math.nan,) * 8
    for row, point in enumerate(shots.point):
        sd = math.nan if shots.level_sd is None else float(shots.level_sd[row])
        values = (*none, float(shots.level[row]), sd, float(shots.east[row]), float(shots.north[row]))
        yield point, values, (shots.note[row], shots.file[row], str(shots.line[row]))


def whole_sheet(plan: Plan, columns: dict[str, Sequence[str]]) -> pd.DataFrame:
    """Return the columns as a table, with what belongs to the whole sheet."""
    import pandas as pd  # noqa: PLC0415 - half a second of import that reading a level book does not need

    count = len(next(iter(columns.values())))
    first = [True] + [False] * (count - 1)
    whole = {
        "site": [plan.name] * count,
        "date": [plan.date] * count,
        "datum": [plan.datum] * count,
        "overrides": [" ".join(plan.overrides)] * count,
        "how": [" ".join(plan.how) if row else "" for row in first[:count]],
        "cautions": [" ".join(caution.text for caution in plan.cautions) if row else "" for row in first[:count]],
    }
    return pd.DataFrame({**columns, **whole}, dtype=object)


def _whole(angle: float) -> str:
    """Return an angle to the whole degree, or nothing."""
    return f"{angle:.0f}" if math.isfinite(angle) else ""
