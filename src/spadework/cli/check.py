"""``spadework check``: levels taken on the work against the plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from spadework.cli.printing import hint, print_list, print_table, warn
from spadework.cli.site_argument import ALLOW_MISCLOSURE, SITE, open_survey
from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.fieldcheck import FieldCheck, Wanted
    from spadework.site import Site
    from spadework.survey_check import CheckedReadings, CheckOptions

DEFAULT_PLAN = Path("plan")
PLAN_FILE = "plan.json"
OUT_OF_TOLERANCE = 1


@click.command(
    short_help="Levels taken on the work against the plan: in tolerance or not, and what is left to do.",
    epilog="""\b
Examples:
  spadework check my-garden formation.csv
  spadework check my-garden levels.csv --stage finish --bench-reading 1.352
  spadework check my-garden drops.txt --stage formation --line-level "100.2 m"
  spadework check my-garden may-2.csv may-9.csv may-16.csv      # progress

\b
READINGS is the list that the field sheet hands out (stake, rod, note), or any other kind of readings: a rod list with
positions, a level book of stakes, a grid of drops taped from corner A, or points with levels.
""",
)
@SITE
@click.argument("readings", metavar="READINGS...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--plan",
    "plan_folder",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="Folder of the plan, or its plan.json.  [default: plan; made again from SITE where there is none]",
)
@click.option(
    "--stage",
    metavar="STAGE",
    help='How far the work has come: strip, formation, "layer 1", finish, or a height above formation, "+50 mm". '
    "The readings may say it themselves.",
)
@click.option(
    "--tolerance",
    metavar="LENGTH",
    help="How far a level may be off.  [default: 30 mm strip, 20 mm formation, 15 mm layer, 10 mm finish]",
)
@click.option("--straight-edge", metavar="LENGTH", help="Length of the straight-edge.  [default: 2 m or 8 ft]")
@click.option("--bench-reading", metavar="LENGTH", help="Rod reading on the bench mark, where READINGS do not hold it.")
@click.option("--line-level", metavar="LEVEL", help="Level of the string or the water that drops were measured from.")
@click.option(
    "--kind",
    type=click.Choice(["level-book", "rod-list", "drop-grid", "points"]),
    help="What READINGS are, where they are not recognised rightly.",
)
@click.option(
    "--units",
    type=click.Choice(["m", "ft", "ft-in"]),
    help="Unit of plain numbers in READINGS, where it is not that of the site.",
)
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(path_type=Path),
    default=Path("check"),
    show_default=True,
    help="Folder for the picture and the tables: new, empty, or holding an earlier check.",
)
@click.option("--strict", is_flag=True, help="Leave with exit status 1 where the last check is not in tolerance.")
@ALLOW_MISCLOSURE
@click.option("--json", "as_json", is_flag=True, help="Print check.json: the whole check for programs, with its units.")
def check(
    *,
    site: Path,
    readings: tuple[Path, ...],
    plan_folder: Path | None,
    stage: str | None,
    tolerance: str | None,
    straight_edge: str | None,
    bench_reading: str | None,
    line_level: str | None,
    kind: str | None,
    units: str | None,
    out: Path,
    strict: bool,
    allow_misclosure: bool,
    as_json: bool,
) -> None:
    """Compare levels taken on the work with the plan of SITE.

    Says in one sentence whether every point is in tolerance; then, for each point, how far it is off and what to do
    there; how much is still to dig and to bring; the plane that was built, whether water can stand on it, and how flat
    it is under a straight-edge; and the stone that each layer still needs. Several READINGS, the earliest first, show
    the progress; the last is the one that counts.
    """
    from spadework.site import load_site
    from spadework.survey_check import check_readings
    from spadework.write import check_folder
    from spadework.write.check_results import write_check

    if out.exists() and not out.is_dir():
        raise InputError(Fault(f"--out {out} is a file", "results go into a folder", "Give the name of a folder"))
    check_folder(out)
    loaded = load_site(site)
    options = _options(
        loaded,
        stage,
        (tolerance, straight_edge, bench_reading, line_level),
        kind,
        units,
        allow_misclosure=allow_misclosure,
    )
    wanted = _wanted(loaded, plan_folder, allow_misclosure=allow_misclosure)
    found: list[CheckedReadings] = []
    faults: list[Fault] = []
    for path in readings:
        try:
            found.append(check_readings(loaded, wanted, path, options))
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(faults)
    checks = [one.check for one in found]
    notices = tuple(dict.fromkeys(note for one in found for note in one.notices))
    overrides = tuple(dict.fromkeys(note for one in found for note in one.overrides))
    hint("Drawing")
    write_check(checks, out, notices, overrides)
    warn([*overrides, *notices])
    if as_json:
        click.echo((out / "check.json").read_text(encoding="utf-8"), nl=False)
    else:
        print_check(found)
        click.echo(f"\nWritten into {out}: {', '.join(sorted(check_folder(out)))}.")
    if strict and not checks[-1].within:
        click.get_current_context().exit(OUT_OF_TOLERANCE)


def print_check(found: list[CheckedReadings]) -> None:
    """Print the last check, its verdict first, and the progress over all.

    Parameters
    ----------
    found : list of CheckedReadings
        In the order in which they were made.
    """
    from spadework.fieldcheck import doubts, findings, stage_words, verdict
    from spadework.write.check_table import progress_table

    last = found[-1]
    checked = last.check
    unit = checked.wanted.units
    click.echo(verdict(checked))
    click.echo(f"\n{checked.wanted.name}: {stage_words(checked.stage).casefold()}. Lengths in {unit.value}.")
    for sentence in last.sentences:
        click.echo(f"  {sentence}")
    click.echo(f"  Checked against {checked.wanted.source}.\n")
    print_table(
        ("point", "east", "north", "level", "wanted", "off", "to do", "note"), _rows(checked), text_columns=(0, 7)
    )
    print_list("What was built:", findings(checked))
    print_list("To know:", doubts(checked))
    if len(found) > 1:
        click.echo("\nProgress; off is measured less wanted:\n")
        headings = (
            "readings",
            "date",
            "stage",
            "points",
            "out",
            "mean",
            "highest",
            "lowest",
            "dig",
            "bring",
            "in tolerance",
        )
        print_table(headings, progress_table([one.check for one in found]), text_columns=(0, 1, 2))


def _rows(checked: FieldCheck) -> list[tuple[str, ...]]:
    """Return the cells of each point, the worst first."""
    from spadework.fieldcheck import to_do
    from spadework.units import format_length

    unit = checked.wanted.units
    rows = []
    for point in sorted(checked.points, key=lambda point: -abs(point.deviation)):
        lengths = (
            format_length(value, unit, with_unit=False)
            for value in (point.east, point.north, point.level, point.wanted)
        )
        off = format_length(point.deviation, unit, sign=True, with_unit=False)
        rows.append((point.name, *lengths, off, to_do(checked, point), point.note))
    return rows


def _wanted(site: Site, folder: Path | None, *, allow_misclosure: bool) -> Wanted:
    """Return the plan to compare with: read from an earlier run, or made again where there is none."""
    from spadework.read.plan_document import read_plan_document

    if folder is not None or (DEFAULT_PLAN / PLAN_FILE).is_file():
        given = folder or DEFAULT_PLAN
        wanted = read_plan_document(given)
        if wanted.name.casefold() != site.name.casefold():
            raise InputError(
                Fault(
                    f"{given} is the plan of {wanted.name!r}, and the site is {site.name!r}",
                    "a check compares with the plan of its own site",
                    "Give the folder of its plan with --plan",
                    Source(str(given)),
                )
            )
        return wanted
    from spadework.plan import make_plan
    from spadework.survey import plan_inputs
    from spadework.survey_check import wanted_from_plan

    loaded, survey = open_survey(site.file, allow_misclosure=allow_misclosure)
    hint("Making the plan again")
    return wanted_from_plan(make_plan(plan_inputs(loaded, survey)))


def _options(
    site: Site,
    stage: str | None,
    lengths: tuple[str | None, str | None, str | None, str | None],
    kind: str | None,
    units: str | None,
    *,
    allow_misclosure: bool,
) -> CheckOptions:
    """Return what the call says, every fault of it at once."""
    from spadework.fieldcheck import tolerance_given
    from spadework.survey_check import CheckOptions
    from spadework.units import LengthUnit, parse_length

    unit = site.units
    faults: list[Fault] = []

    def read(option: str, text: str | None) -> float | None:
        if text is None:
            return None
        try:
            if option == "--tolerance":
                return tolerance_given(text, unit)
            value = parse_length(text, unit, source=Source(option))
        except InputError as error:
            faults.extend(error.faults)
            return None
        if option == "--straight-edge" and not value > 0:
            faults.append(
                Fault(f"a straight-edge of {text}", "it is longer than nothing", "Give 2 m", Source(option), text)
            )
        return value

    names = ("--tolerance", "--straight-edge", "--bench-reading", "--line-level")
    tolerance, straight_edge, bench_reading, line_level = (
        read(name, text) for name, text in zip(names, lengths, strict=True)
    )
    if faults:
        raise InputError(faults)
    return CheckOptions(
        stage=stage,
        tolerance=tolerance,
        straight_edge=straight_edge,
        bench_reading=bench_reading,
        line_level=line_level,
        kind=kind,
        units=LengthUnit(units) if units else None,
        allow_misclosure=allow_misclosure,
    )
