"""How files were understood: kind, reason, and every column with its meaning and unit."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from spadework.cli.printing import print_json, print_list, print_table

if TYPE_CHECKING:
    from spadework.read import Recognised
    from spadework.site import Site

__all__ = ["EXPLAIN", "explain", "explain_site"]

EXPLAIN = click.option(
    "--explain", "explained", is_flag=True, help="Show for each column how it was understood, and stop there."
)


def explain_site(site: Site, *, as_json: bool) -> None:
    """Print how every file of a site was understood, without reducing any.

    Parameters
    ----------
    site : Site
        The site file.
    as_json : bool
        Print it for programs.
    """
    from spadework.read import read_file

    found = []
    for table in site.readings:
        path: str | Path = "-" if table.file == "-" else site.path_to(table.file)
        found.append(
            read_file(
                path,
                units=table.units or site.units,
                kind=table.kind,
                order=table.order,
                name=None if table.file == "-" else table.file,
                vertical_unit=table.vertical_unit,
                site_crs=site.crs or None,
                spacing=table.spacing,
            )
        )
    explain([table.file for table in site.readings], found, as_json=as_json)


def explain(files: Sequence[str], found: Sequence[Recognised], *, as_json: bool) -> None:
    """Print how files were understood.

    Parameters
    ----------
    files : sequence of str
        Their names.
    found : sequence of Recognised
        What each was taken for.
    as_json : bool
        Print it for programs.
    """
    if as_json:
        print_json({"files": [for_programs(file, each) for file, each in zip(files, found, strict=True)]})
        return
    for number, (file, recognised) in enumerate(zip(files, found, strict=True)):
        click.echo(f"{chr(10) if number else ''}{file}: {recognised.sentence}")
        click.echo(f"  because {recognised.reason}\n")
        rows = [
            (column.heading or "(blank)", column.meaning or "not used", column.unit, column.why)
            for column in recognised.columns
        ]
        if rows:
            print_table(("column", "meaning", "unit", "why"), rows, text_columns=(0, 1, 2, 3))
        print_list("To know:", recognised.notes)


def for_programs(file: str, recognised: Recognised) -> dict[str, object]:
    """Return how one file was understood, as plain values."""
    return {
        "file": file,
        "kind": recognised.kind,
        "sentence": recognised.sentence,
        "reason": recognised.reason,
        "columns": [
            {"heading": column.heading, "meaning": column.meaning or None, "unit": column.unit, "why": column.why}
            for column in recognised.columns
        ],
        "notes": list(recognised.notes),
    }
