"""A reduced level book on paper and for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import print_list, print_table

if TYPE_CHECKING:
    from collections.abc import Callable

    from spadework.levels import ReducedLevels, Run
    from spadework.levels.wording import Wording
    from spadework.read import Recognised

__all__ = ["book_for_programs", "print_book", "run_text"]


def print_book(recognised: Recognised, reduced: ReducedLevels) -> None:
    """Print the book for people.

    Parameters
    ----------
    recognised : Recognised
        The readings as they were read.
    reduced : ReducedLevels
        The book with its levels.
    """
    from spadework.levels.wording import Wording
    from spadework.units import unit_label

    words = Wording.of_book(reduced.book.reading_resolution, reduced.unit)
    click.echo(f"{reduced.book.file or 'standard input'}: {recognised}")
    click.echo(f"Lengths in {unit_label(reduced.unit)}; RL is the level before adjustment, level the one after it.")
    if reduced.book.backsight_correction is not None:
        click.echo("BS, IS and FS stand as corrected for the lengths of their sights.")
    click.echo()
    print_table(
        ("point", "BS", "IS", "FS", "to BS", "to FS", "HI", "rise", "fall", "RL", "corr.", "level", "sd", "note"),
        _rows(reduced, words),
        text_columns=(0, 13),
    )
    checks = reduced.checks
    click.echo(f"\nPage check{'' if checks.agrees else ' FAILS'}:")
    closing = f" - last IS {words.number(checks.sum_last_is)}" if checks.sum_last_is else ""
    click.echo(
        f"  sum BS {words.number(checks.sum_bs)} - sum FS {words.number(checks.sum_fs)}{closing}"
        f" = {words.number(checks.difference)}"
    )
    click.echo(
        f"  sum of rises {words.number(checks.sum_rise)} - sum of falls {words.number(checks.sum_fall)}"
        f" = {words.number(checks.sum_rise - checks.sum_fall)}"
    )
    click.echo(f"  last RL - first RL = {words.number(checks.last_less_first)}")
    print_list(
        f"Closure (misclosure is observed minus known; {reduced.tolerance}):", map(run_text(words), reduced.runs)
    )
    if reduced.fit is not None:
        from spadework.levels.fit import fit_sentence

        click.echo(f"\nHow well the readings agree:\n  - {fit_sentence(reduced.fit)}")
        if reduced.adjust == "least-squares":
            click.echo("\nReadings that others check (w: correction over its standard deviation; checked: 1 is all):")
            columns = ("line", "point", "sight", "reading", "corr.", "w", "checked")
            print_table(columns, _readings(reduced, words), text_columns=(1, 2))
    print_list("What looks wrong:", reduced.suspects)
    print_list("To know:", (*recognised.notes, *reduced.notices))


def _rows(reduced: ReducedLevels, words: Wording) -> list[list[str]]:
    """Return the cells of the book, empty where there is nothing."""
    import numpy as np

    book = reduced.book
    changed = bool(np.any(np.abs(np.nan_to_num(reduced.correction)) > 0))
    nothing = np.full(len(book), np.nan)
    columns = (
        book.backsight,
        book.intermediate,
        book.foresight,
        reduced.hi,
        reduced.rise,
        reduced.fall,
        reduced.initial if changed else nothing,
        reduced.correction if changed else nothing,
        reduced.level,
    )
    cells = [["" if np.isnan(value) else words.number(value) for value in column] for column in columns]
    for length in (book.sight_length, book.backsight_length):
        values = nothing if length is None else length
        cells.insert(3, ["" if np.isnan(value) else _rough(float(value), reduced) for value in values])
    spread = nothing if reduced.level_sd is None else reduced.level_sd
    cells.append(["" if np.isnan(value) else words.fine_number(value) for value in spread])
    return [list(row) for row in zip(book.point, *cells, book.note, strict=True)]


def _rough(metres: float, reduced: ReducedLevels) -> str:
    """Return the length of a sight, to a tenth of a metre or a foot."""
    from spadework.units import LengthUnit, format_length

    step = 8 if reduced.unit is LengthUnit.FOOT_INCH else 1
    return format_length(metres, reduced.unit, step=step, with_unit=False)


def _readings(reduced: ReducedLevels, words: Wording) -> list[list[str]]:
    """Return the adjusted readings, in the order of the book, without those that nothing checks."""
    import numpy as np

    if reduced.fit is None:
        return []
    book, readings, solution = reduced.book, reduced.fit.net.readings, reduced.fit.solution
    rows = []
    for i in np.lexsort((readings.is_backsight, readings.row)).tolist():
        if solution.redundancy[i] < 1e-6:
            continue
        row = int(readings.row[i])
        sight = "FS" if np.isfinite(book.foresight[row]) else "IS"
        rows.append(
            [
                str(int(book.line[row])),
                book.point[row],
                "BS" if readings.is_backsight[i] else sight,
                words.number(float(readings.value[i])),
                words.fine_number(float(solution.residual[i])),
                f"{float(solution.standardised[i]) + 0.0:.1f}",
                f"{float(solution.redundancy[i]):.2f}",
            ]
        )
    return rows


def run_text(words: Wording) -> Callable[[Run], str]:
    """Return what says how well a run came out."""
    from math import isnan

    def text(run: Run) -> str:
        length = "" if isnan(run.distance) else f", {words.length(run.distance)} long"
        head = f"{run.start} to {run.end}, {run.setups} set-up{'' if run.setups == 1 else 's'}{length}"
        if run.kind == "open":
            return f"{head}: ends on nothing known, so nothing checks it"
        verdict = "" if run.within is None else ", within" if run.within else ", OVER THE TOLERANCE"
        allowed = "" if isnan(run.allowed) else f", allowed {words.fine(run.allowed)}{verdict}"
        against = {"repeat": "levelled before as", "check": "known (checked, not adjusted to)"}.get(run.kind, "known")
        return (
            f"{head}: observed {words.number(run.observed)}, {against} {words.number(run.known)}, "
            f"misclosure {words.fine(run.misclosure, sign=True)}{allowed}"
        )

    return text


def book_for_programs(recognised: Recognised, reduced: ReducedLevels) -> dict[str, Any]:
    """Return the book for programs: every length in metres.

    Parameters
    ----------
    recognised, reduced
        As for `print_book`.
    """
    book = reduced.book
    columns: dict[str, Any] = {
        "line": book.line,
        "point": book.point,
        "backsight": book.backsight,
        "intermediate": book.intermediate,
        "foresight": book.foresight,
        "backsight_length": book.backsight_length,
        "sight_length": book.sight_length,
        "backsight_correction": book.backsight_correction,
        "sight_correction": book.sight_correction,
        "hi": reduced.hi,
        "rise": reduced.rise,
        "fall": reduced.fall,
        "initial": reduced.initial,
        "correction": reduced.correction,
        "level": reduced.level,
        "level_sd": reduced.level_sd,
        "note": book.note,
    }
    if reduced.fit is not None:
        solution = reduced.fit.solution
        for sight, is_backsight in (("backsight", True), ("sight", False)):
            for name, values in (
                ("residual", solution.residual),
                ("standardised", solution.standardised),
                ("redundancy", solution.redundancy),
            ):
                columns[f"{sight}_{name}"] = reduced.fit.by_row(values, len(book), backsights=is_backsight)
    columns = {key: value for key, value in columns.items() if value is not None}
    lists = {key: value.tolist() if hasattr(value, "tolist") else list(value) for key, value in columns.items()}
    return {
        "file": book.file,
        "read_as": str(recognised),
        "unit": "m",
        "rows": [dict(zip(lists, row, strict=True)) for row in zip(*lists.values(), strict=True)],
        "checks": {
            "sum_bs": reduced.checks.sum_bs,
            "sum_fs": reduced.checks.sum_fs,
            "sum_last_is": reduced.checks.sum_last_is,
            "sum_rise": reduced.checks.sum_rise,
            "sum_fall": reduced.checks.sum_fall,
            "last_less_first": reduced.checks.last_less_first,
            "agrees": reduced.checks.agrees,
        },
        "tolerance": str(reduced.tolerance),
        "adjust": reduced.adjust,
        "runs": [
            {
                "kind": run.kind,
                "start": run.start,
                "end": run.end,
                "setups": run.setups,
                "distance": run.distance,
                "observed": run.observed,
                "known": run.known,
                "misclosure": run.misclosure,
                "allowed": run.allowed,
                "within": run.within,
            }
            for run in reduced.runs
        ],
        "fit": _fit_for_programs(reduced),
        "looks_wrong": list(reduced.suspects),
        "notices": [*recognised.notes, *reduced.notices],
    }


def _fit_for_programs(reduced: ReducedLevels) -> dict[str, Any] | None:
    """Return how well the readings agree, and the readings that are probably wrong."""
    fit = reduced.fit
    if fit is None:
        return None
    low, high = fit.limits
    return {
        "reading_sd": fit.precision.reading_sd,
        "reading_sd_from": fit.precision.words,
        "weights": fit.precision.weights,
        "readings": len(fit.solution.residual),
        "degrees_of_freedom": fit.solution.degrees_of_freedom,
        "chi_square": fit.solution.chi_square,
        "chi_square_low": low,
        "chi_square_high": high,
        "variance_factor": fit.solution.variance_factor,
        "verdict": fit.verdict,
        "did_you_mean": [
            [
                {
                    "kind": slip.kind,
                    "line": int(reduced.book.line[slip.row]),
                    "point": reduced.book.point[slip.row],
                    "backsight": slip.is_backsight,
                    "was": slip.was,
                    "meant": slip.meant,
                    "share": slip.share,
                }
                for slip in slips
            ]
            for slips in fit.slips
        ],
    }
