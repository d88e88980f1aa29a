"""``spadework ground``: how the ground lies, and what of the survey is doubtful."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.explain import EXPLAIN, explain_site
from spadework.cli.printing import AS_JSON, print_json, print_list
from spadework.cli.site_argument import ALLOW_MISCLOSURE, SITE, open_survey

if TYPE_CHECKING:
    from spadework.site import Site
    from spadework.survey import Survey


@click.command(
    short_help="Show how the ground lies and what is doubtful in the survey.",
    epilog="""\b
Examples:
  spadework ground my-garden
  spadework ground my-garden/site.toml --json
""",
)
@SITE
@ALLOW_MISCLOSURE
@EXPLAIN
@AS_JSON
def ground(*, site: Path, allow_misclosure: bool, explained: bool, as_json: bool) -> None:
    """Read the survey of SITE and show the ground that it describes.

    Printed are: what each file was read as; how many shots make the ground and how far it reaches; the mean slope and
    which way it falls; how far the shots lie from that plane; how the levels closed; and what is doubtful.
    """
    if explained:
        from spadework.site import load_site

        explain_site(load_site(site), as_json=as_json)
        return
    loaded, survey = open_survey(site, allow_misclosure=allow_misclosure)
    content = _content(loaded, survey)
    if as_json:
        print_json(content)
    else:
        _print_ground(loaded, survey, content)


def _content(site: Site, survey: Survey) -> dict[str, Any]:
    """Return what is to be shown: lengths in metres, slope as rise over run."""
    surface = survey.ground
    plane = surface.mean_plane()
    west, south, east, north = surface.bounds
    return {
        "name": site.name,
        "unit": "m",
        "read_as": list(survey.sentences),
        "kind": surface.kind,
        "points": len(surface.level),
        "triangles": surface.triangle_count,
        "area": surface.area,
        "extent": {"west": west, "south": south, "east": east, "north": north},
        "lowest": float(surface.level.min()),
        "highest": float(surface.level.max()),
        "mean_plane": {"slope": plane.slope, "falls_towards": plane.aspect, "level": plane.level, "rms": plane.rms},
        "levels": [
            {
                "file": reduced.book.file,
                "runs": [
                    {"start": run.start, "end": run.end, "misclosure": run.misclosure, "allowed": run.allowed}
                    for run in reduced.runs
                ],
                "looks_wrong": list(reduced.suspects),
            }
            for reduced in survey.levels
        ],
        "overrides": list(survey.overrides),
        "notices": [*survey.notices, *surface.notices],
    }


def _print_ground(site: Site, survey: Survey, content: dict[str, Any]) -> None:
    """Print it for people, in the units of the site."""
    from spadework.cli.book import run_text
    from spadework.levels.wording import Wording
    from spadework.units import format_area, format_length, format_slope

    unit, surface = site.units, survey.ground
    plane = surface.mean_plane()
    west, south, east, north = surface.bounds

    def length(metres: float) -> str:
        return format_length(metres, unit)

    click.echo(site.name)
    for sentence in survey.sentences:
        click.echo(f"  {sentence}")
    click.echo(f"\nGround from {len(surface.level)} points, {surface.triangle_count} triangles ({surface.kind})")
    click.echo(f"  reaches      {length(east - west)} by {length(north - south)}, {format_area(surface.area, unit)}")
    click.echo(f"  levels       {length(content['lowest'])} to {length(content['highest'])}")
    click.echo(f"  mean slope   {format_slope(plane.slope)}, falling towards {plane.aspect:.0f}° from site north")
    click.echo(f"  unevenness   the points lie {length(plane.rms)} from that plane (root mean square)")
    for reduced in survey.levels:
        words = Wording.of_book(reduced.book.reading_resolution, unit)
        print_list(
            f"Levels of {reduced.book.file or 'standard input'} ({reduced.tolerance}):",
            map(run_text(words), reduced.runs),
        )
        print_list("What looks wrong:", reduced.suspects)
    print_list("To know:", [*survey.overrides, *content["notices"]])
