"""How the commands print: tables whose columns line up, sentences under a heading, and JSON for programs."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from spadework.placement import Goal
    from spadework.units import LengthUnit

__all__ = ["AS_JSON", "hint", "print_json", "print_list", "print_table", "proof_progress", "scan_progress", "warn"]

AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print the same result for programs, lengths in metres.")


def print_table(headings: Sequence[str], rows: Iterable[Sequence[str]], *, text_columns: Sequence[int] = (0,)) -> None:
    """Print rows under their headings; numbers to the right, columns without any content left out.

    Parameters
    ----------
    headings : sequence of str, length c
        Headings.
    rows : iterable of sequence of str, length c
        Cells.
    text_columns : sequence of int
        Columns that stand to the left.
    """
    table = [list(map(str, row)) for row in rows]
    kept = [column for column in range(len(headings)) if any(row[column] for row in table)]
    width = {column: max(len(line[column]) for line in (headings, *table)) for column in kept}
    for line in (headings, *table):
        cells = (
            line[column].ljust(width[column]) if column in text_columns else line[column].rjust(width[column])
            for column in kept
        )
        click.echo("  ".join(cells).rstrip())


def print_list(heading: str, sentences: Iterable[str]) -> None:
    """Print a heading and below it a sentence to a line; nothing where there are none."""
    found = list(dict.fromkeys(sentences))
    if found:
        click.echo(f"\n{heading}")
    for sentence in found:
        click.echo(f"  - {sentence}")


def warn(sentences: Iterable[str], heading: str = "Note") -> None:
    """Print sentences to standard error, where they do not mix with a result that is piped on."""
    for sentence in dict.fromkeys(sentences):
        click.echo(f"{heading}: {sentence}", err=True)


def hint(sentence: str) -> None:
    """Say what is being done, on a terminal only: a pipe or a log gets nothing."""
    if sys.stderr.isatty():
        click.echo(f"{sentence} ...", err=True)


def proof_progress(goal: Goal, unit: LengthUnit) -> Callable[[float, float, int], None] | None:
    """Return what shows how far a proof has come, on one line of the terminal; nothing for a pipe or a log.

    Parameters
    ----------
    goal : Goal
        What is least.
    unit : LengthUnit
        The user's unit.
    """
    if not sys.stderr.isatty():
        return None
    from spadework.placement.goal_words import value_words

    def show(best: float, lower: float, nodes: int) -> None:
        bound = value_words(goal, max(lower, 0.0), unit)
        click.echo(
            f"\rBest {value_words(goal, best, unit)}, none under {bound}, {nodes:,} boxes   ", err=True, nl=False
        )
        if lower >= best - max(0.01 * best, 0.005):
            click.echo("", err=True)

    return show


def scan_progress(unit: LengthUnit) -> Callable[[float, float], None] | None:
    """Return what shows how far a scan has come, on one line of the terminal; nothing for a pipe or a log.

    Parameters
    ----------
    unit : LengthUnit
        The user's unit.
    """
    if not sys.stderr.isatty():
        return None
    from spadework.units import format_volume

    def show(done: float, best: float) -> None:
        found = f", best so far {format_volume(best, unit)}" if math.isfinite(best) else ""
        click.echo(f"\r{done:4.0%} scanned{found}   ", err=True, nl=done >= 1.0)

    return show


def print_json(content: Mapping[str, Any]) -> None:
    """Print a result for programs: arrays as lists, NaN as null."""
    click.echo(json.dumps(_plain(content), ensure_ascii=False, indent=2, allow_nan=False))


def _plain(value: Any) -> Any:
    """Return a value made of what JSON knows."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
