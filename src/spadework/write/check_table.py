"""The points of a check as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from spadework.fieldcheck import FieldCheck, stage_words, to_do, verdict
from spadework.units import LengthUnit, format_length, format_volume, unit_label

__all__ = ["check_table", "progress_table"]


def check_table(check: FieldCheck) -> bytes:
    """Return one row for each point, lengths in the user's unit, as CSV in UTF-8.

    Parameters
    ----------
    check : FieldCheck
        The check.
    """
    unit = check.wanted.units
    label = unit_label(unit)
    lengths = ("east", "north", "level", "wanted", "deviation")
    rows: list[Sequence[str]] = [
        (
            *("point", *(f"{name} [{label}]" for name in lengths), "state", "to do", "note", "site", "stage", "date"),
            "verdict",
        )
    ]
    for number, point in enumerate(check.points):
        values = (format_length(getattr(point, name), unit, with_unit=False) for name in lengths[:-1])
        off = format_length(point.deviation, unit, sign=True, with_unit=False)
        first = verdict(check) if number == 0 else ""
        about = (check.wanted.name, check.stage.name, check.date, first)
        rows.append((point.name, *values, off, point.state, to_do(check, point), point.note, *about))
    return _csv(rows)


def progress_table(checks: Sequence[FieldCheck]) -> list[tuple[str, ...]]:
    """Return a row for each of several checks: file, date, stage, points, out, mean, highest, lowest, dig, bring.

    Parameters
    ----------
    checks : sequence of FieldCheck
        In the order in which they were made.
    """

    def small(metres: float, unit: LengthUnit) -> str:
        return format_length(metres, unit, sign=True, with_unit=False)

    rows = []
    for check in checks:
        unit = check.wanted.units
        amounts = check.amounts
        volumes = ("", "") if amounts is None else (amounts.dig, amounts.bring)
        rows.append(
            (
                check.file,
                check.date,
                stage_words(check.stage),
                str(len(check.points)),
                str(len(check.off)),
                *(small(value, unit) for value in (check.mean, check.highest.deviation, check.lowest.deviation)),
                *(volume if isinstance(volume, str) else format_volume(volume, unit) for volume in volumes),
                "yes" if check.within else "no",
            )
        )
    return rows


def _csv(rows: Sequence[Sequence[str]]) -> bytes:
    """Return rows as CSV by RFC 4180."""
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\r\n").writerows(rows)
    return stream.getvalue().encode("utf-8")
