"""A net of levelled lines, adjusted: on paper and for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import print_list, print_table

if TYPE_CHECKING:
    from spadework.levels.net_book import ReducedNet
    from spadework.read import Recognised

__all__ = ["level_net_for_programs", "print_level_net"]


def print_level_net(reduced: ReducedNet, recognised: Recognised | None = None) -> None:
    """Print an adjusted level net: levels with their errors, loops, the agreement, and every line.

    Parameters
    ----------
    reduced : ReducedNet
        The net.
    recognised : Recognised, optional
        What the file was read as, where that is to be said here.
    """
    from math import isnan

    from spadework.cli.book import run_text
    from spadework.levels.net_book import net_sentence
    from spadework.levels.wording import Wording
    from spadework.units import unit_label

    words = Wording.of_book(reduced.lines.reading_resolution, reduced.unit)
    net, solution = reduced.net, reduced.net.solution
    if recognised is not None:
        click.echo(f"{reduced.lines.file or 'standard input'}: {recognised}")
        click.echo(f"Lengths in {unit_label(reduced.unit)}.\n")
    rows = []
    for point, level, sd, error in zip(net.point, net.level, reduced.level_sd, net.standard_error, strict=True):
        held = sd == 0
        rows.append(
            (
                point,
                words.fine_number(float(level)),
                "held" if held else words.fine_number(float(sd)),
                "" if held or isnan(error) else words.fine_number(float(error)),
            )
        )
    print_table(("point", "level", "sd", "standard error"), rows)
    click.echo(
        "sd: as the lines promise, widened where they agree worse; standard error: as they agree among themselves."
    )
    print_list(
        f"Loops and runs (misclosure is observed minus known; {reduced.tolerance}):", map(run_text(words), reduced.runs)
    )
    click.echo(f"\nHow well the lines agree:\n  - {net_sentence(reduced)}")
    click.echo("\nLines (w: correction over its standard deviation; checked: 1 is all):")
    lines = reduced.lines

    def how(place: int) -> tuple[str, str, str]:
        return (
            words.fine_number(float(solution.residual[place])),
            f"{float(solution.standardised[place]) + 0.0:.1f}",
            f"{float(solution.redundancy[place]):.2f}",
        )

    cells = [
        (str(int(line)), start, end, words.number(float(rise)), *how(row))
        for row, (line, start, end, rise) in enumerate(zip(lines.line, lines.start, lines.end, lines.rise, strict=True))
    ]
    cells += [("", "datum", name, "", *how(place)) for place, name in enumerate(net.loose, len(lines))]
    print_table(("line", "from", "to", "rise", "corr.", "w", "checked"), cells, text_columns=(1, 2))
    print_list("What looks wrong:", reduced.suspects)
    notes = recognised.notes if recognised is not None else ()
    print_list("To know:", (*notes, *reduced.notices))


def level_net_for_programs(reduced: ReducedNet) -> dict[str, Any]:
    """Return an adjusted level net for programs: every length in metres."""
    net, solution, lines = reduced.net, reduced.net.solution, reduced.lines
    low, high = solution.limits
    return {
        "file": lines.file,
        "unit": "m",
        "weights": reduced.weights,
        "points": [
            {"point": point, "level": level, "sd": sd, "standard_error": error}
            for point, level, sd, error in zip(
                net.point, net.level.tolist(), reduced.level_sd.tolist(), net.standard_error.tolist(), strict=True
            )
        ],
        "lines": [
            {
                "line": int(lines.line[row]),
                "from": lines.start[row],
                "to": lines.end[row],
                "rise": float(lines.rise[row]),
                "sd": float(solution.sd[row]),
                "residual": float(solution.residual[row]),
                "standardised": float(solution.standardised[row]),
                "redundancy": float(solution.redundancy[row]),
            }
            for row in range(len(lines))
        ],
        "bench_marks_not_held": [
            {"point": name, "residual": float(solution.residual[place]), "sd": float(solution.sd[place])}
            for place, name in enumerate(net.loose, len(lines))
        ],
        "runs": [
            {
                "kind": run.kind,
                "line": int(lines.line[run.first_row]),
                "start": run.start,
                "end": run.end,
                "setups": run.setups,
                "distance": run.distance,
                "misclosure": run.misclosure,
                "allowed": run.allowed,
                "within": run.within,
            }
            for run in reduced.runs
        ],
        "degrees_of_freedom": solution.degrees_of_freedom,
        "chi_square": solution.chi_square,
        "chi_square_low": low,
        "chi_square_high": high,
        "variance_factor": solution.variance_factor,
        "verdict": solution.verdict,
        "did_you_mean": [
            {
                "kind": slip.kind,
                "line": int(lines.line[slip.row]),
                "was": slip.was,
                "meant": slip.meant,
                "share": slip.share,
            }
            for slip in reduced.slips
        ],
        "looks_wrong": list(reduced.suspects),
        "notices": list(reduced.notices),
    }
