"""Levels taken on the work brought together with the plan: reduced from the bench mark, and each put in its place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.fieldcheck import FieldCheck, Stage, Wanted, field_check, stage_named, stage_names
from spadework.levels.drops import LEVEL_LINE
from spadework.plan import Plan
from spadework.read import Recognised, looks_like_raster
from spadework.read.check_list import CheckList, read_check_list
from spadework.read.text import STANDARD_INPUT, open_text
from spadework.readings import DropGrid, LevelBook, PointList, RodList
from spadework.shots import Shots
from spadework.site import Site
from spadework.site_schema import DatumTable, ReadingsTable
from spadework.survey_check_places import at_stakes, placed_shots, with_bench, with_places
from spadework.survey_levels import SurveyPart, reduced
from spadework.units import LengthUnit, format_length, parse_length

__all__ = ["CheckOptions", "CheckedReadings", "check_readings", "wanted_from_plan"]


SAME_LEVEL = 0.0005  # two ways of writing one level [m]


@dataclass(frozen=True)
class CheckOptions:
    """What the call says besides the files.

    Parameters
    ----------
    stage : str, optional
        Stage of the work, for files that do not say.
    tolerance, straight_edge : float, optional
        [m]
    bench_reading : float, optional
        Rod reading on the bench mark, for files that do not hold it. [m]
    line_level : float, optional
        Level of the line that drops were measured from. [m]
    kind : str, optional
        Kind of the readings.
    units : LengthUnit, optional
        Unit of plain numbers in the readings, where it is not that of the site.
    allow_misclosure : bool
        Go on with a misclosure over the tolerance.
    """

    stage: str | None = None
    tolerance: float | None = None
    straight_edge: float | None = None
    bench_reading: float | None = None
    line_level: float | None = None
    kind: str | None = None
    units: LengthUnit | None = None
    allow_misclosure: bool = False


@dataclass(frozen=True)
class CheckedReadings:
    """One file of readings, checked.

    Parameters
    ----------
    check : FieldCheck
        The check.
    sentences, notices, overrides : tuple of str
        What the file was read as; what the user should know; rules that were set aside.
    """

    check: FieldCheck
    sentences: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    overrides: tuple[str, ...] = ()


def wanted_from_plan(plan: Plan) -> Wanted:
    """Return what a check compares with, from a plan that was just made."""
    stakes = (*plan.stakeout.stakes, *plan.stakeout.offsets, *plan.stakeout.side_points)
    return Wanted(
        name=plan.name,
        date=plan.date,
        units=plan.units,
        pad=plan.pad,
        placement=plan.search.best.placement,
        stakes={stake.name: (stake.east, stake.north) for stake in stakes},
        bench=plan.bench,
        ground=plan.ground,
        source="the plan made again from the site file",
    )


def check_readings(site: Site, wanted: Wanted, path: Path | str, options: CheckOptions) -> CheckedReadings:
    """Read levels taken on the work and compare them with the plan.

    Parameters
    ----------
    site : Site
        For the datum and the rules of levelling.
    wanted : Wanted
        The plan.
    path : Path or str
        The readings; ``-`` for standard input.
    options : CheckOptions
        What the call says.

    Raises
    ------
    InputError
        With every fault of the file, or what it does not say: the stage, the bench mark, a stake that is not there.
    MisclosureError
        If a level run is out by more than its tolerance.
    SurveyError
        If no point lies on the pad.
    """
    _check_bench(site, wanted)
    name = STANDARD_INPUT if str(path) == "-" else str(path)
    if str(path) != "-" and looks_like_raster(Path(path)):
        remedy = "Take levels on the pad with a level and a rod, or give points with their levels"
        raise InputError(
            Fault("a raster cannot be checked", "a check needs levels taken by hand", remedy, Source(name))
        )
    listed = read_check_list(open_text(path), units=options.units or site.units, kind=options.kind)
    stage, notices = _stage(listed, wanted, options, name)
    if "site" in listed.said and listed.said["site"].text.casefold() != wanted.name.casefold():
        notices.append(f"{name} is of site {listed.said['site'].text!r}, the plan of {wanted.name!r}.")
    if "plan of" in listed.said and wanted.date and listed.said["plan of"].text != wanted.date:
        notices.append(
            f"The sheet was that of the plan of {listed.said['plan of'].text}, and the plan is of {wanted.date} now: "
            "was it dug to the old one?"
        )
    notices += [
        f"{key[0].upper()}{key[1:]}: {said.text.strip(chr(34))}"
        for key, said in listed.said.items()
        if key.casefold().startswith("note on")
    ]
    part = _reduced(site, wanted, listed, options, name)
    check = field_check(
        wanted,
        placed_shots(wanted, part, name),
        stage,
        tolerance=options.tolerance,
        straight_edge=options.straight_edge,
        date=listed.said["date"].text if "date" in listed.said else "",
        file=name,
    )
    return CheckedReadings(
        check,
        part.sentences,
        (*notices, *(note for note in part.notices if not _by_design(note, listed))),
        part.overrides,
    )


def _by_design(note: str, listed: CheckList) -> bool:
    """Say whether a note speaks of comments that were used, or of the bench mark, which is no point of the pad."""
    return (bool(listed.said) and "comment line" in note and "left out" in note) or note.endswith(
        "no shot of the ground."
    )


def _check_bench(site: Site, wanted: Wanted) -> None:
    """Refuse a plan whose bench mark has another level than the site file gives it now."""
    if site.datum is None or wanted.bench is None or wanted.bench[0].casefold() != site.datum.point.casefold():
        return
    if abs(site.datum.level - wanted.bench[1]) > SAME_LEVEL:
        now, then = (format_length(level, site.units) for level in (site.datum.level, wanted.bench[1]))
        raise InputError(
            Fault(
                f"{site.datum.point} is {now} in the site file, and {then} in {wanted.source}",
                "the plan and the check count from one level",
                "Run spadework plan again, or put the level back",
                site.source("site", "datum"),
            )
        )


def _stage(listed: CheckList, wanted: Wanted, options: CheckOptions, name: str) -> tuple[Stage, list[str]]:
    """Return the stage that the file or the call says, the file first, and what is to be said of it."""
    build_up, unit = wanted.pad.build_up, wanted.units
    said = listed.said.get("stage")
    given = None if options.stage is None else stage_named(options.stage, build_up, unit, source=Source("--stage"))
    if said is None:
        if given is None:
            names = ", ".join(stage_names(build_up))
            raise InputError(
                Fault(
                    "nothing says how far the work has come",
                    f"the stages of this pad are {names}",
                    'Give --stage formation, or write a line "# stage: formation" into the file',
                    Source(name),
                )
            )
        return given, []
    stage = stage_named(said.text, build_up, unit, source=said.source)
    if given is not None and given != stage:
        return given, [f"{said.source} says stage {stage.name!r}; --stage {given.name!r} was given, and holds."]
    return stage, []


def _reduced(site: Site, wanted: Wanted, listed: CheckList, options: CheckOptions, name: str) -> SurveyPart:
    """Return the readings as levels, from the bench mark or from the level line."""
    recognised = listed.recognised
    reading = recognised.reading
    context = {"units": site.units}
    written: dict[str, object] = {"file": name}
    line = _line_level(listed, wanted, options)
    if isinstance(reading, DropGrid) or listed.drops:
        if line is None:
            raise InputError(_no_line(wanted, name))
        if isinstance(reading, DropGrid):
            corner = wanted.placement.to_site(wanted.pad.outline.min(axis=0)[np.newaxis])[0]
            written |= {
                "line-level": f"{line!r} m",
                "origin": [f"{float(corner[0])!r} m", f"{float(corner[1])!r} m"],
                "bearing": wanted.placement.bearing % 360.0,
            }
    elif isinstance(reading, PointList):
        site = replace(site, datum=None)
        if listed.by_stake:
            recognised = replace(recognised, reading=at_stakes(wanted, reading))
    if isinstance(reading, RodList) and listed.drops and line is not None:
        return _dropped(wanted, reading, line, recognised)
    if isinstance(reading, RodList):
        datum = _datum(site, wanted, name)
        extra = _bench_row(listed, options, datum, reading, name)
        site = replace(site, datum=datum)
        recognised = replace(recognised, reading=with_places(wanted, with_bench(reading, extra), datum.point))
    elif isinstance(reading, LevelBook):
        site = replace(site, datum=_datum(site, wanted, name))
    table = ReadingsTable.model_validate(written, context=context)
    return reduced(site, table, recognised, allow_misclosure=options.allow_misclosure)


def _dropped(wanted: Wanted, reading: RodList, line: float, recognised: Recognised) -> SurveyPart:
    """Return drops by stake as levels: ``level = line - drop``."""
    placed = with_places(wanted, reading, LEVEL_LINE)
    shots = Shots(
        point=placed.point,
        east=placed.east,
        north=placed.north,
        level=line - placed.rod,
        note=placed.note,
        line=placed.line,
        file=(placed.file,) * len(placed),
    )
    level = format_length(line, wanted.units)
    said = (f"{placed.file} {recognised.sentence}.", f"Level = {level} (the line) less the drop.")
    return SurveyPart(placed.file, shots=shots, sentences=said, notices=recognised.notes)


def _line_level(listed: CheckList, wanted: Wanted, options: CheckOptions) -> float | None:
    """Return the level of the line that drops were measured from: of the call, or of the file. [m]"""
    if options.line_level is not None:
        return options.line_level
    said = listed.said.get("line")
    return None if said is None else parse_length(said.text, wanted.units, source=said.source)


def _no_line(wanted: Wanted, name: str) -> Fault:
    """Return the fault of drops below a line without a level."""
    unit = wanted.units
    level = format_length(wanted.placement.finish + 0.5, unit)
    same = ""
    if wanted.bench is not None:
        same = (
            f" If it hangs where it did for the survey: --line-level {_quoted(format_length(wanted.bench[1], unit))}."
        )
    return Fault(
        "the readings are drops below a line, and nothing says its level",
        f"level = line less drop; finish level is {format_length(wanted.placement.finish, unit)}",
        f"Give --line-level, such as {_quoted(level)}.{same}",
        Source(name),
    )


def _quoted(text: str) -> str:
    """Return a length as a shell takes it, whatever marks it has."""
    return f'"{text}"' if '"' not in text else f"'{text.replace(chr(39), ' ft ').replace(chr(34), ' in')}'"


def _datum(site: Site, wanted: Wanted, name: str) -> DatumTable:
    """Return the bench mark that rods are counted from."""
    if site.datum is not None:
        return site.datum
    if wanted.bench is not None:
        return DatumTable.model_construct(point=wanted.bench[0], level=wanted.bench[1])
    raise InputError(
        Fault(
            "the site has no bench mark, so rod readings have no level to count from",
            "a level is that of the bench mark, plus the reading on it, less the reading on the point",
            "Give datum in [site], or readings with levels",
            Source(name),
        )
    )


def _bench_row(
    listed: CheckList, options: CheckOptions, datum: DatumTable, reading: RodList, name: str
) -> tuple[str, float, Source] | None:
    """Return the reading on the bench mark that is not among the rows: of the call, or of a comment."""
    bench = listed.bench
    if options.bench_reading is not None:
        if bench is not None and abs(bench[1] - options.bench_reading) > SAME_LEVEL:
            what = f"the file gives a reading on {bench[0]} and --bench-reading gives another"
            raise InputError(Fault(what, "one set-up has one", "Leave out --bench-reading", bench[2]))
        return datum.point, options.bench_reading, Source("--bench-reading")
    if bench is not None:
        if bench[0].casefold() != datum.point.casefold():
            raise InputError(
                Fault(
                    f"the reading is on {bench[0]!r}, and the bench mark of the site is {datum.point!r}",
                    "levels are counted from the bench mark of the site",
                    "Correct the name, or read the bench mark",
                    bench[2],
                )
            )
        return datum.point, bench[1], bench[2]
    if not any(point.strip().casefold() == datum.point.casefold() for point in reading.point):
        raise InputError(
            Fault(
                f"no reading is on the bench mark {datum.point}",
                "without it nobody knows how high the instrument stood",
                f'Give --bench-reading, or write a line "# bench: {datum.point} reading 1.352" into the file',
                Source(name),
            )
        )
    return None
