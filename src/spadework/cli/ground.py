"""``spadework ground``: how the ground lies, and what of the survey is doubtful."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.explain import EXPLAIN, explain_site
from spadework.cli.printing import AS_JSON, print_json, print_list
from spadework.cli.site_argument import ALLOW_MISCLOSURE, SITE, open_survey
from spadework.cli.sureness import plan_confidence, print_ground_sureness, sureness_content

if TYPE_CHECKING:
    from spadework.site import Site
    from spadework.survey import Survey
    from spadework.units import LengthUnit

MOST_HOLLOWS = 5
MOST_TIED = 15


@click.command(
    short_help="Show how the ground lies and what is doubtful in the survey.",
    epilog="""\b
Examples:
  spadework ground my-garden
  spadework ground my-garden/site.toml --json
  spadework ground my-garden --out pictures
""",
)
@SITE
@click.option(
    "--out",
    "out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Draw the ground into a folder: ground.svg and .png, perspective.svg and .png.",
)
@ALLOW_MISCLOSURE
@EXPLAIN
@AS_JSON
def ground(*, site: Path, out: Path | None, allow_misclosure: bool, explained: bool, as_json: bool) -> None:
    """Read the survey of SITE and show the ground that it describes.

    Printed are: what each file was read as; how many shots make the ground and how far it reaches; the mean slope and
    which way it falls; how far the shots lie from that plane; how steep and how rough it is; hollows where water will
    stand; how far a raster was off the shots that it is tied to; how the levels closed; and what is doubtful.
    Then how alike the ground is from place to place, the shots that all the others do not believe, and, where the site
    file has a pad, where one more shot would help most.
    """
    if explained:
        from spadework.site import load_site

        explain_site(load_site(site), as_json=as_json)
        return
    loaded, survey = open_survey(site, allow_misclosure=allow_misclosure)
    found, why_not = plan_confidence(loaded, survey)
    content = {**_content(loaded, survey), **sureness_content(survey, found, why_not)}
    written = _draw(loaded, survey, out) if out is not None else ()
    if as_json:
        print_json(content)
    else:
        _print_ground(loaded, survey, content)
        print_ground_sureness(loaded, survey, found, why_not)
        if written:
            click.echo(f"\nWritten into {out}: {', '.join(sorted(path.name for path in written))}.")


def _draw(site: Site, survey: Survey, out: Path) -> tuple[Path, ...]:
    """Draw the ground into a folder."""
    from spadework.cli.printing import hint
    from spadework.write import check_folder
    from spadework.write.ground_files import write_ground
    from spadework.write.ground_picture import GroundPicture

    check_folder(out)
    hint("Drawing")
    picture = GroundPicture(
        name=site.name,
        units=site.units,
        ground=survey.ground,
        shots=survey.shots,
        boundary=survey.boundary,
        keep_outs=survey.keep_outs,
        process=survey.study.process if survey.study is not None else None,
        crs=survey.crs,
        how=survey.sentences,
        overrides=survey.overrides,
    )
    return write_ground(picture, out)


def _content(site: Site, survey: Survey) -> dict[str, Any]:
    """Return what is to be shown: lengths in metres, slope as rise over run."""
    from spadework.cli.net import level_net_for_programs
    from spadework.cli.places import net_for_programs
    from spadework.ground.hollows import find_hollows
    from spadework.ground.relief import MOST_CORNERS, relief

    surface = survey.ground
    plane = surface.mean_plane()
    west, south, east, north = surface.bounds
    steep = relief(surface)
    hollows = find_hollows(surface) if len(surface.level) <= MOST_CORNERS else None
    tied = survey.tied
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
        "slopes": {
            "tenth": steep.gentle,
            "half": steep.middle,
            "nine_tenths": steep.steep,
            "steepest": steep.steepest,
        },
        "roughness": steep.roughness,
        "hollows": None
        if hollows is None
        else [
            {
                "east": hollow.east,
                "north": hollow.north,
                "bottom": hollow.bottom,
                "spill": hollow.spill,
                "depth": hollow.depth,
                "area": hollow.area,
                "volume": hollow.volume,
            }
            for hollow in hollows
        ],
        "tied": None
        if tied is None
        else {
            "how": tied.how,
            "shift": tied.shift,
            "slope": tied.slope,
            "falls_towards": tied.aspect,
            "covariance": None if tied.covariance is None else str(tied.covariance),
            "shots": [
                {"point": name, "before": before, "after": after, "left_out": left_out}
                for name, before, after, left_out in zip(
                    tied.names, tied.before.tolist(), tied.after.tolist(), tied.left_out.tolist(), strict=True
                )
            ],
        },
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
        "level_nets": [level_net_for_programs(net) for net in survey.level_nets],
        "places": None if survey.net is None else net_for_programs(survey.net),
        "overrides": list(survey.overrides),
        "notices": [*survey.notices, *surface.notices],
    }


def _print_ground(site: Site, survey: Survey, content: dict[str, Any]) -> None:
    """Print it for people, in the units of the site."""
    from spadework.cli.book import run_text
    from spadework.cli.net import print_level_net
    from spadework.cli.places import print_net
    from spadework.levels.wording import Wording
    from spadework.positions.net_fit import place_slip_sentences
    from spadework.units import format_area, format_length, format_slope

    unit, surface = site.units, survey.ground
    plane = surface.mean_plane()
    west, south, east, north = surface.bounds

    def length(metres: float) -> str:
        return format_length(metres, unit)

    click.echo(site.name)
    for sentence in survey.sentences:
        click.echo(f"  {sentence}")
    click.echo(f"\nGround from {surface.size_words} ({surface.kind})")
    click.echo(f"  reaches      {length(east - west)} by {length(north - south)}, {format_area(surface.area, unit)}")
    click.echo(f"  levels       {length(content['lowest'])} to {length(content['highest'])}")
    click.echo(f"  mean slope   {format_slope(plane.slope)}, falling towards {plane.aspect:.0f}° from site north")
    click.echo(f"  unevenness   the points lie {length(plane.rms)} from that plane (root mean square)")
    _print_relief(site, survey, content)
    for reduced in survey.levels:
        words = Wording.of_book(reduced.book.reading_resolution, unit)
        print_list(
            f"Levels of {reduced.book.file or 'standard input'} ({reduced.tolerance}):",
            map(run_text(words), reduced.runs),
        )
        print_list("What looks wrong:", reduced.suspects)
    for net in survey.level_nets:
        click.echo(f"\nLevels of {net.lines.file or 'standard input'}, adjusted as a net:\n")
        print_level_net(net)
    if survey.net is not None:
        click.echo("\nPlaces, all that was measured between points adjusted together:\n")
        print_net(survey.net, unit)
        print_list("What looks wrong:", place_slip_sentences(survey.net, unit))


def _print_relief(site: Site, survey: Survey, content: dict[str, Any]) -> None:
    """Print how steep and rough the ground is, where water will stand, and how a raster was tied."""
    from spadework.cli.printing import print_table
    from spadework.units import format_area, format_length, format_volume

    unit, steep = site.units, content["slopes"]

    def length(metres: float) -> str:
        return format_length(metres, unit)

    low, high, most = (f"{steep[key] * 100:.1f} %" for key in ("tenth", "nine_tenths", "steepest"))
    click.echo(f"  slopes       {low} to {high} over the middle eight tenths of it, {most} at the steepest")
    if content["roughness"] == content["roughness"]:
        click.echo(f"  roughness    the points lie {length(content['roughness'])} from the plane of their neighbours")
    hollows = content["hollows"] or ()
    said = [
        f"up to {length(hollow['depth'])} deep over {format_area(hollow['area'], unit)}, "
        f"{format_volume(hollow['volume'], unit)}; lowest at east {length(hollow['east'])}, "
        f"north {length(hollow['north'])}; runs over at {length(hollow['spill'])}"
        for hollow in hollows[:MOST_HOLLOWS]
    ]
    more = len(hollows) - len(said)
    print_list("Hollows where water will stand:", [*said, *([f"{more} smaller ones"] if more else [])])
    if survey.tied is not None:
        click.echo("\nThe raster against the shots, before and after it was tied; left out: to the others alone\n")
        rows = content["tied"]["shots"]
        shown = sorted(rows, key=lambda row: -abs(row["left_out"] or 0.0))[:MOST_TIED]
        print_table(
            ("shot", "before", "after", "left out"),
            ([row["point"], *(_signed(row[key], unit) for key in ("before", "after", "left_out"))] for row in shown),
        )
        if len(rows) > len(shown):
            click.echo(f"... and {len(rows) - len(shown)} that are missed by less")


def _signed(metres: float, unit: LengthUnit) -> str:
    """Return a length with its sign, empty where it is not known."""
    from spadework.units import format_length

    return "" if metres != metres else format_length(metres, unit, sign=True)  # noqa: PLR0124 - NaN
