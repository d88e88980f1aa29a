"""``spadework plan``: the main job, from the readings to the stakes."""

from __future__ import annotations

import dataclasses
import datetime as dt
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from spadework.cli.built import print_build
from spadework.cli.explain import EXPLAIN, explain_site
from spadework.cli.luck import print_luck_words
from spadework.cli.printing import hint, print_table, proof_progress, warn
from spadework.cli.proof_options import proof_effort, proof_options
from spadework.cli.site_argument import ALLOW_MISCLOSURE, SITE, open_survey, today
from spadework.cli.sureness import print_next_shots, print_sureness
from spadework.cli.trade import print_what_if
from spadework.errors import Fault, InputError

if TYPE_CHECKING:
    from spadework.plan import Plan, PlanInputs
    from spadework.stakeout import Stake
    from spadework.write.second_process import SecondProcess


@click.command(
    short_help="The main job: spot, levels, volumes, stakes and sheets, into a folder.",
    epilog="""\b
Examples:
  spadework plan my-garden
  spadework plan my-garden --out results --date 2027-03-01
  spadework plan my-garden --bench-reading 1.352
  spadework plan my-garden < pasted.txt     # where the site file says file = "-"

\b
The results are written whole or not at all. A folder that holds anything else is refused.
""",
)
@SITE
@click.option(
    "--out",
    "out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    default=Path("plan"),
    show_default=True,
    help="Folder for the results: new, empty, or holding earlier results.",
)
@click.option(
    "--date",
    type=click.DateTime(formats=["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day that is printed on the sheets.  [default: today]",
)
@click.option(
    "--bench-reading",
    metavar="LENGTH",
    help="Today's rod reading on the bench mark: the sheets then say what the rod must read.",
)
@click.option("--hi", metavar="LEVEL", help="Height of instrument, instead of a reading on the bench mark.")
@click.option(
    "--paper",
    type=click.Choice(["A4", "Letter"]),
    help="Paper of field-sheet.pdf, instead of that of the site file.",
)
@proof_options
@ALLOW_MISCLOSURE
@EXPLAIN
@click.option("--json", "as_json", is_flag=True, help="Print plan.json: the whole plan for programs, with its units.")
def plan(
    *,
    site: Path,
    out: Path,
    date: dt.datetime | None,
    bench_reading: str | None,
    hi: str | None,
    paper: str | None,
    gap: str | None,
    seconds: str | None,
    allow_misclosure: bool,
    explained: bool,
    as_json: bool,
) -> None:
    """Work out the whole plan of SITE and write it into a folder.

    Finds the spot and the finish level, the soil dug, made up, left over and bought, where each stake stands and how
    deep to dig there. The folder gets plan.json for programs, tables of stakes, depths and levels, a drawing of the
    yard, and the field sheet that is carried out.
    """
    from spadework.placement.warm import start_bounds, start_compiling
    from spadework.plan import make_plan
    from spadework.survey import plan_inputs
    from spadework.write import check_folder, write_plan

    if explained:
        from spadework.site import load_site

        explain_site(load_site(site), as_json=as_json)
        return
    _check_out(out)
    effort = proof_effort(gap, seconds)
    start_compiling()
    loaded, survey = open_survey(site, allow_misclosure=allow_misclosure)
    for sentence in survey.sentences:
        hint(sentence)
    day = today() if date is None else date.date().isoformat()
    inputs = plan_inputs(loaded, survey, date=day)
    inputs = dataclasses.replace(
        inputs, hi=_height_of_instrument(inputs, bench_reading, hi), paper=paper or inputs.paper
    )
    sloped = inputs.limits.ground_slope is not None
    start_bounds(inputs.pad, inputs.goal.wall, inputs.limits.finish.kind, sloped=sloped)
    hint("Searching for the best spot")
    with _help() as second:
        progress, settled = proof_progress(inputs.goal, inputs.units), None if second is None else second.hand_over
        made = make_plan(inputs, effort=effort, progress=progress, settled=settled)
        hint("Drawing")
        write_plan(made, out, second)
    warn([*made.overrides, *made.notices])
    warn((caution.text for caution in made.cautions), "Caution")
    if as_json:
        click.echo((out / "plan.json").read_text(encoding="utf-8"), nl=False)
    else:
        print_plan(made)
        if made.build is not None:
            print_build(made.build, made.units)
        click.echo(f"\nWritten into {out}: {', '.join(sorted(check_folder(out)))}.")


def _help() -> AbstractContextManager[SecondProcess | None]:
    """Return a second process that gets ready to draw, where this command has the process to itself."""
    from spadework.cli import Program
    from spadework.write.second_process import SecondProcess

    program = click.get_current_context().find_object(Program)
    return SecondProcess() if program is not None and program.whole else nullcontext()


def _check_out(out: Path) -> None:
    """Refuse a folder that cannot take the results, before any work is done."""
    from spadework.write import check_folder

    if out.exists() and not out.is_dir():
        raise InputError(Fault(f"--out {out} is a file", "results go into a folder", "Give the name of a folder"))
    check_folder(out)


def print_plan(made: Plan) -> None:
    """Print the plan in short: spot, levels, volumes and stakes.

    Parameters
    ----------
    made : Plan
        The whole plan.
    """
    from spadework.units import format_length, format_volume
    from spadework.write.sheet_words import bearing_name, pad_words

    unit, spot = made.units, made.search.best
    at, volumes, soil = spot.placement, made.earthwork, made.soil

    def length(metres: float) -> str:
        return format_length(metres, unit)

    def volume(cubic_metres: float) -> str:
        return format_volume(cubic_metres, unit)

    sides = " x ".join(length(side) for side in made.pad.sides[:2])
    if not made.pad.is_rectangle:
        sides = pad_words(made).replace("\u00a0", " ")
    named = bearing_name(made).removeprefix("Bearing").strip()
    along = "" if made.pad.radius else "along its length "
    which = f", {along}from {named}" if named else ""
    click.echo(f"{made.name}, {made.date}")
    click.echo(f"  pad        {sides}, its middle at east {length(at.east)}, north {length(at.north)}")
    click.echo(f"  bearing    {at.bearing:.1f}° from site north{which}")
    click.echo(f"  finish     {length(at.finish)}; formation {length(volumes.formation)}")
    click.echo(f"  strip      {volume(volumes.strip_volume)} of turf and topsoil, kept apart")
    click.echo(f"  dig        {volume(volumes.cut)} in the ground, {volume(soil.cut_loose.likely)} loose")
    if soil.trench_bank.likely > 0:
        back = f"{volume(soil.packed_compacted.likely)} rammed back beside the frame"
        click.echo(f"  trench     {volume(soil.trench_bank.likely)} in the ground, {back}")
    click.echo(f"  make up    {volume(volumes.fill)} compacted")
    if made.confidence is not None:
        print_sureness(made.confidence, unit)
    else:
        click.echo(f"  expect     {made.unsure}")
    for words, amount in (("left over", soil.over_loose.likely), ("to buy", soil.short_loose.likely)):
        if volume(amount) != volume(0.0):
            click.echo(f"  {words:<10} {volume(amount)} loose")
    if made.search.proof is not None:
        click.echo(f"\n{made.search.proof.statement}")
    if made.luck is not None:
        print_luck_words(made.luck, made.goal, unit, spot)
    print_what_if(made.what_if or (), spot, made.goal, unit)
    click.echo(f"\nStakes, lengths in {unit.value}; dig is the depth from the ground as it stands, strip included.\n")
    names = [name for name, _, _ in made.stakeout.references]
    print_table(
        ("stake", "east", "north", "ground", "formation", "dig", "fill", *(f"to {name}" for name in names)),
        (_stake_row(stake, made) for stake in made.stakeout.stakes),
    )
    if made.confidence is not None:
        print_next_shots(made.confidence, unit)
    if made.stakeout.hi is not None:
        formation, finish = made.stakeout.hi - volumes.formation, made.stakeout.hi - at.finish
        click.echo(
            f"\nWith the instrument at {length(made.stakeout.hi)} the rod reads {length(formation)} at formation, "
            f"{length(finish)} at finish."
        )
    spans = [*made.stakeout.sides, *made.stakeout.diagonals]
    proved = "square" if made.pad.is_rectangle else "true"
    click.echo(f"\nTape to prove it {proved}: " + ", ".join(f"{s.start}{s.end} {length(s.length)}" for s in spans))


def _height_of_instrument(inputs: PlanInputs, bench_reading: str | None, hi: str | None) -> float | None:
    """Return the height of instrument that the call gives, or None where it gives none. [m]"""
    from spadework.errors import Source
    from spadework.units import parse_length

    if bench_reading is not None and hi is not None:
        raise InputError(
            Fault(
                "--hi and --bench-reading are both given",
                "one follows from the other: HI is the level of the bench mark plus the reading on it",
                "Give one of them",
            )
        )
    if hi is not None:
        return parse_length(hi, inputs.units, source=Source("--hi"))
    if bench_reading is None:
        return None
    if inputs.bench is None:
        raise InputError(
            Fault(
                "--bench-reading is given, and the site has no bench mark",
                "a height of instrument is the level of a bench mark plus the reading on it",
                "Give [site] datum, or --hi",
            )
        )
    return inputs.bench[1] + parse_length(bench_reading, inputs.units, source=Source("--bench-reading"))


def _stake_row(stake: Stake, made: Plan) -> list[str]:
    """Return the cells of one stake."""
    from spadework.units import format_length

    ties = {tie.reference: tie.distance for tie in stake.ties}
    lengths = (
        stake.east,
        stake.north,
        stake.ground_level,
        stake.formation,
        stake.dig,
        stake.fill,
        *(ties[name] for name, _, _ in made.stakeout.references if name in ties),
    )
    return [stake.name, *(format_length(value, made.units, with_unit=False) for value in lengths)]
