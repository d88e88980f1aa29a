"""What the commands that take a SITE share: the argument, its options, and reading the survey behind it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from spadework.cli.printing import hint

if TYPE_CHECKING:
    from spadework.site import Site
    from spadework.survey import Survey

__all__ = ["ALLOW_MISCLOSURE", "SITE", "open_survey", "today"]

SITE = click.argument("site", metavar="SITE", type=click.Path(path_type=Path))
ALLOW_MISCLOSURE = click.option(
    "--allow-misclosure",
    is_flag=True,
    help="Carry on with a misclosure over the tolerance. It is then printed with every result.",
)


def open_survey(path: Path, *, allow_misclosure: bool) -> tuple[Site, Survey]:
    """Read a site file and everything that it names.

    Parameters
    ----------
    path : Path
        The site file or its folder.
    allow_misclosure : bool
        Whether a misclosure over the tolerance is let pass, besides what the site file says.
    """
    from spadework.site import load_site
    from spadework.survey import load_survey

    site = load_site(path)
    hint("Reading the survey")
    return site, load_survey(site, allow_misclosure=allow_misclosure)


def today() -> str:
    """Return the day that is printed where none is given, ``YYYY-MM-DD``."""
    return dt.datetime.now(tz=dt.UTC).astimezone().date().isoformat()
