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
    from spadework.write.nets_json import level_net_document, metres

    return {"unit": "m", **level_net_document(reduced, metres)}
