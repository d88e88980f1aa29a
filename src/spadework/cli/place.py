"""``spadework place``: the best spot for the pad, and others that really differ."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spadework.cli.explain import EXPLAIN, explain_site
from spadework.cli.luck import luck_content, print_luck
from spadework.cli.printing import AS_JSON, hint, print_json, print_table, proof_progress, warn
from spadework.cli.proof_options import proof_effort, proof_options
from spadework.cli.site_argument import ALLOW_MISCLOSURE, SITE, open_survey, today
from spadework.cli.trade import print_effects, print_front
from spadework.errors import Fault, InputError

if TYPE_CHECKING:
    from spadework.confidence.luck import Luck
    from spadework.placement import Proof, SearchResult, Spot
    from spadework.placement.what_if import Effect
    from spadework.plan import PlanInputs


@click.command(
    short_help="Find the spots where the pad costs least digging.",
    epilog="""\b
Examples:
  spadework place my-garden
  spadework place my-garden --json
  spadework place my-garden --check-proof
  spadework place my-garden --gap 0.1% --seconds 60
  spadework place my-garden --map spots.svg
  spadework place my-garden --what-if
  spadework place my-garden --front digging,wall --map front.svg

\b
When nothing fits, it says which limit forbids how much, and what would have to give, with exit status 1.
""",
)
@SITE
@ALLOW_MISCLOSURE
@click.option(
    "--check-proof",
    "checked",
    is_flag=True,
    help="Work out sampled placements another, slower way, and compare them with the proof.",
)
@click.option(
    "--map",
    "picture",
    metavar="FILE",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the map of every spot: .svg or .png for people, .tif (GeoTIFF) for a map program.",
)
@click.option(
    "--what-if",
    "asked",
    is_flag=True,
    help="Say how the answer moves if the soil, a price or a rate is another, and where another spot becomes better.",
)
@click.option(
    "--front",
    metavar="GOAL,GOAL",
    help="Instead of the spots, the front of two goals: what one costs at the least for each value of the other. "
    "With --map, its picture.",
)
@proof_options
@EXPLAIN
@AS_JSON
def place(
    *,
    site: Path,
    allow_misclosure: bool,
    checked: bool,
    picture: Path | None,
    asked: bool,
    front: str | None,
    gap: str | None,
    seconds: str | None,
    explained: bool,
    as_json: bool,
) -> None:
    """Find where the pad of SITE goes and how high it finishes, so that its goal is met with least work.

    Printed are the best spot and up to three others that really differ, each with what it trades against the best. A
    spot is the middle of the pad (east, north), the bearing of its length, and its finish level. Below them stands the
    proof: what no spot allowed here can do better than, and, where the shots say how sure the ground is, what each spot
    is to be expected to cost and how much a better one might save.
    """
    if explained:
        from spadework.site import load_site

        explain_site(load_site(site), as_json=as_json)
        return
    from spadework.placement.warm import start_bounds, start_compiling
    from spadework.plan import find_spot
    from spadework.plan_luck import with_luck
    from spadework.survey import plan_inputs

    _check_picture(picture, front)
    effort = proof_effort(gap, seconds)
    start_compiling()
    loaded, survey = open_survey(site, allow_misclosure=allow_misclosure)
    inputs = plan_inputs(loaded, survey, date=today())
    sloped = inputs.limits.ground_slope is not None
    start_bounds(inputs.pad, inputs.goal.wall, inputs.limits.finish.kind, sloped=sloped)
    if front is not None:
        warn([*inputs.notices, *inputs.overrides])
        print_front(inputs, front, picture, effort, as_json=as_json)
        return
    hint("Searching for the best spot")
    result = find_spot(inputs, effort=effort, progress=proof_progress(inputs.goal, inputs.units))
    points = (*inputs.references, *inputs.fixed_points)
    result, luck = with_luck(result, inputs.study, inputs.rank, unit=inputs.units, landmarks=points)
    if result.proof is not None:
        hint(f"Bounded {result.proof.nodes:,} boxes of placements in {result.proof.seconds:.1f} s")
    warn([*inputs.notices, *result.notices, *inputs.overrides])
    effects = _effects(inputs, result) if asked else ()
    if as_json:
        more = {"what_if": _effects_content(inputs, result, effects)} if asked else {}
        print_json({**_content(inputs, result), "luck": luck_content(luck), **more})
    else:
        _print_spots(inputs, result, luck)
        if asked:
            print_effects(inputs, result, effects)
    if picture is not None:
        _draw(picture, inputs, result)
    if checked:
        _check(inputs, result)


def _check_picture(picture: Path | None, front: str | None) -> None:
    """Refuse a name that says no kind of picture, before any work is done."""
    if picture is None or picture.suffix.lower() in {".svg", ".png", ".tif" if front is None else ".svg"}:
        return
    if front is not None:
        what = f"--map {picture} says no kind of picture that a front can be"
        raise InputError(Fault(what, "its name ends in .svg or .png", "Name it front.svg"))
    raise InputError(
        Fault(f"--map {picture} says no kind of picture", "its name ends in .svg, .png or .tif", "Name it spots.svg")
    )


def _effects(inputs: PlanInputs, result: SearchResult) -> tuple[Effect, ...]:
    """Return what each number that was assumed does."""
    from spadework.plan_what_if import effects_of

    hint("Asking what if")
    return effects_of(inputs, result)


def _effects_content(inputs: PlanInputs, result: SearchResult, effects: tuple[Effect, ...]) -> dict[str, Any]:
    """Return the same for programs: lengths in metres, values as the goal counts them."""
    from spadework.units import LengthUnit
    from spadework.write.what_if_json import what_if_document

    return what_if_document(effects, result.best, inputs.goal, LengthUnit.METRE)


def _draw(picture: Path, inputs: PlanInputs, result: SearchResult) -> None:
    """Write the map of every spot."""
    from spadework.write.spots_picture import spots_bytes

    if result.spot_map is None:
        raise InputError(Fault("there is no map of every spot", "the position is free", "Leave --map out"))
    try:
        picture.write_bytes(spots_bytes(inputs, result, picture.suffix.lower()))
    except OSError as error:
        raise InputError(Fault(f"--map {picture} cannot be written: {error.strerror}", "", "Choose another")) from error
    click.echo(f"Written: {picture}", err=True)


def _check(inputs: PlanInputs, result: SearchResult) -> None:
    """Check the proof on sampled placements; end with status 1 where it does not hold."""
    from spadework.placement.check_proof import check_proof

    if result.proof is None:
        click.echo("There is no proof to check.", err=True)
        sys.exit(1)
    keep = 1.0 - inputs.soil.shrink
    check = check_proof(inputs.ground, inputs.pad, inputs.limits, inputs.goal, keep, result)
    click.echo(check.sentence, err=True)
    if not check.holds:
        sys.exit(1)


def _print_spots(inputs: PlanInputs, result: SearchResult, luck: Luck | None) -> None:
    """Print the spots for people."""
    from spadework.plan_soil import trench_words
    from spadework.units import format_length, format_volume

    unit, edge = inputs.units, inputs.pad.edge.retained

    def row(name: str, spot: Spot) -> list[str]:
        at = spot.placement
        lengths = (at.east, at.north, at.finish, spot.formation)
        east, north, finish, formation = (format_length(value, unit, with_unit=False) for value in lengths)
        volumes = (format_volume(value, unit) for value in (spot.cut, spot.fill, spot.over, spot.short))
        exposed = [format_length(max(spot.exposed_edge, 0.0), unit, with_unit=False)] if edge else []
        return [name, east, north, f"{at.bearing:.1f}°", finish, formation, *volumes, *exposed]

    click.echo(f"{inputs.name}: {inputs.goal.sentence or inputs.goal.name}. Lengths in {unit.value}.\n")
    spots = [("best", result.best), *((f"other {n}", spot) for n, spot in enumerate(result.alternatives, 1))]
    print_table(
        (
            *("spot", "east", "north", "bearing", "finish", "formation", "cut", "fill", "over", "short"),
            *(["edge shows"] if edge else []),
        ),
        (row(name, spot) for name, spot in spots),
    )
    for name, spot in spots:
        if spot.what_differs:
            click.echo(f"\n{name}: {spot.what_differs}")
    click.echo(f"\n{result.searched}.")
    for words in trench_words(result, unit):
        click.echo(words)
    if result.proof is not None:
        click.echo(result.proof.statement)
    if luck is not None:
        print_luck(luck, inputs.goal, unit, spots)


def _content(inputs: PlanInputs, result: SearchResult) -> dict[str, Any]:
    """Return the spots for programs: lengths in metres, volumes in cubic metres, bearings in degrees."""
    return {
        "name": inputs.name,
        "unit": "m",
        "goal": inputs.goal.name,
        "best": spot_for_programs(result.best),
        "alternatives": [spot_for_programs(spot) for spot in result.alternatives],
        "evaluated": result.evaluated,
        "reserve": result.reserve,
        "searched": result.searched,
        "proof": None if result.proof is None else _proof_for_programs(result.proof),
        "notices": [*inputs.notices, *result.notices],
        "overrides": list(inputs.overrides),
    }


def _proof_for_programs(proof: Proof) -> dict[str, Any]:
    """Return a proof for programs; its time is left out, so that the same site prints the same."""
    names = ("best", "lower_bound", "gap", "method", "statement", "nodes", "finished")
    return {name: getattr(proof, name) for name in names}


def spot_for_programs(spot: Spot) -> dict[str, Any]:
    """Return one spot for programs.

    Parameters
    ----------
    spot : Spot
        A placement and what it costs.
    """
    at = spot.placement
    return {
        "east": at.east,
        "north": at.north,
        "bearing": at.bearing,
        "finish": at.finish,
        "formation": spot.formation,
        "value": spot.value,
        "cut": spot.cut,
        "fill": spot.fill,
        "over": spot.over,
        "short": spot.short,
        "exposed_edge": spot.exposed_edge,
        "what_differs": spot.what_differs,
        "rise": spot.rise if spot.rise is not None and math.isfinite(spot.rise) else None,
        "own_valley": spot.rise is not None,
        "moved": spot.moved,
    }
