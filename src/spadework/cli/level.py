"""``spadework level``: reduce readings and print the book with its checks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from spadework.cli.book import book_for_programs, print_book
from spadework.cli.explain import EXPLAIN, explain
from spadework.cli.printing import AS_JSON, print_json
from spadework.errors import Fault, InputError, MisclosureError, Source

if TYPE_CHECKING:
    from collections.abc import Callable

    from spadework.levels import ReducedLevels, Tolerance
    from spadework.levels.fit import Precision
    from spadework.read import Recognised
    from spadework.units import LengthUnit


@click.command(
    short_help="Reduce a level book or a list of rod readings, with its checks.",
    epilog="""\b
Examples:
  spadework level book.csv
  spadework level shots.csv --known BM1=100.0
  spadework level book.txt --units ft --tolerance "0.02 ft*sqrt(n)"
  spadework level - < pasted.txt            # the same from standard input
  spadework level net.csv --known BM1=100.0 --known "BM2=101.2 +- 3 mm"
  spadework level ties.csv --place H1=0,0 --place H2=18,0
  spadework level book.csv --peg-test peg.csv

\b
A misclosure over the tolerance stops with exit status 1 after the book is printed, so that you can look for the
blunder. --allow-misclosure carries on with it.
""",
)
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--kind",
    type=click.Choice(["level-book", "rod-list", "level-net", "ties", "radial", "slope-walk"]),
    help="What FILE is, where it is not recognised rightly.",
)
@click.option(
    "--units",
    type=click.Choice(["m", "ft", "ft-in"]),
    help="Unit of plain numbers where the headings do not say: metres, decimal feet, or feet and inches.",
)
@click.option("--order", metavar="LETTERS", help='Columns of a table without headings, such as "PBIF" or "SPENR".')
@click.option(
    "--known",
    metavar="NAME=LEVEL",
    multiple=True,
    help='A point whose level is known, such as "BM1=100.0"; may be given again for another. One given as "BM2=101.2 '
    '+- 3 mm" is not held by least squares.',
)
@click.option(
    "--place",
    "places",
    metavar="NAME=EAST,NORTH",
    multiple=True,
    help='For ties, sights and walks: a point whose place is known, such as "H1=0,8.40"; may be given again.',
)
@click.option(
    "--tolerance",
    metavar="RULE",
    help='Misclosure allowed: a rule by name, or "12 mm*sqrt(km)", "0.02 ft*sqrt(n)" (n set-ups), "5 mm".  '
    "[default: construction]",
)
@click.option(
    "--adjust",
    type=click.Choice(["set-ups", "distance", "least-squares", "none"]),
    default="set-ups",
    show_default=True,
    help="How the misclosure is shared out; least-squares adjusts all readings at once, over any number of runs.",
)
@click.option(
    "--weights",
    type=click.Choice(["set-ups", "distance"]),
    default="set-ups",
    show_default=True,
    help="What the weights of least squares go by.",
)
@click.option(
    "--instrument",
    metavar="NAME",
    help='What the rod was read with, such as "rotary-laser": says how sure a reading is.  [default: builders-level]',
)
@click.option("--sd", metavar="LENGTH", help='How sure one reading is (its standard deviation), such as "3 mm".')
@click.option("--allow-misclosure", is_flag=True, help="Carry on with a misclosure over the tolerance, and say so.")
@click.option("--rod-length", metavar="LENGTH", help='Length of the rod, such as "5 m": a longer reading is a fault.')
@click.option(
    "--peg-test",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A two-peg test of the instrument (set-up, peg, rod, distance): its slant, and the curve of the earth, are "
    "taken off readings whose lengths of sight the book has.",
)
@click.option("--curvature", is_flag=True, help="Take the curve of the earth off such readings without a peg test.")
@EXPLAIN
@AS_JSON
def level(
    *,
    file: Path,
    kind: str | None,
    units: str | None,
    order: str | None,
    known: tuple[str, ...],
    places: tuple[str, ...],
    tolerance: str | None,
    adjust: str,
    weights: Literal["set-ups", "distance"],
    instrument: str | None,
    sd: str | None,
    allow_misclosure: bool,
    rod_length: str | None,
    peg_test: Path | None,
    curvature: bool,
    explained: bool,
    as_json: bool,
) -> None:
    """Reduce the readings in FILE and print the book: levels by height of instrument and by rise and fall.

    FILE holds a level book (point, BS, IS, FS), rod readings from one or more set-ups (set-up, point, rod), or lines of
    a level net (from, to, rise). The kind, the columns and the unit are recognised, and said. "-" reads standard input.
    Below the book stand the page check, the misclosure against the tolerance, how well the readings agree, and what
    looks wrong. The column sd says how sure each level is, as a standard deviation.

    Tape ties, radial shots and slope walks are adjusted in plan from the points that --place gives: east, north, error
    ellipse, and for every measurement its correction and how much the others check it.
    """
    from spadework.levels import DEFAULT_RULE, tolerance_rule
    from spadework.read import read_file
    from spadework.units import LengthUnit

    rule = tolerance_rule(tolerance or DEFAULT_RULE, source=Source("--tolerance"))
    if file.is_dir() or file.suffix == ".toml":
        remedy = f"Name its file of readings, or see how they lie with: spadework ground {file}"
        raise InputError(Fault(f"{file} is a site", "this command takes one file of readings", remedy))
    unit = LengthUnit(units) if units else None
    recognised = read_file(file, units=unit, kind=kind, order=order)
    if explained:
        explain([str(file)], [recognised], as_json=as_json)
        return
    if recognised.kind in ("ties", "radial", "slope-walk"):
        from spadework.cli.places import given_places, show_places
        from spadework.site_schema import ReadingsTable

        own = unit or LengthUnit.METRE
        spread = None if sd is None else _precision(None, sd, weights, unit).reading_sd
        table = ReadingsTable(file=str(file)).model_copy(update={"instrument": instrument, "sd": spread})
        if not places:
            remedy = 'Give two or more, or one for bearings: --place "A=0,0" --place "B=8.40,0"'
            what = f"{recognised.sentence.partition(',')[0]}: nothing says where the points are that it counts from"
            raise InputError(Fault(what, "a measured point hangs on known ones", remedy, Source("--place")))
        held = given_places(places, _known_levels(known, own), own)
        show_places(recognised, held, table, unit=own, adjust=adjust, as_json=as_json)
        return
    precision = _precision(instrument, sd, weights, unit)
    precision = replace(precision, bench_sd=_bench_sd(known, unit or LengthUnit.METRE))
    options: dict[str, Any] = {"tolerance": rule, "adjust": adjust, "precision": precision}
    if rod_length:
        options["rod_length"] = _option_length("--rod-length", rod_length, unit or LengthUnit.METRE)
    if recognised.kind == "level-net":
        _level_net(recognised, known, unit, rule, precision, allow_misclosure=allow_misclosure, as_json=as_json)
        return
    recognised = _with_sights(recognised, peg_test, unit, curvature=curvature)
    reduce = _reduction(recognised, known, unit, options)
    failure: MisclosureError | None = None
    try:
        reduced = reduce(allow_misclosure)
    except MisclosureError as error:
        failure = error
        reduced = reduce(True)
    if as_json:
        print_json(book_for_programs(recognised, reduced))
    else:
        print_book(recognised, reduced)
    if failure is not None:
        raise failure


def _with_sights(
    recognised: Recognised, peg_test: Path | None, unit: LengthUnit | None, *, curvature: bool
) -> Recognised:
    """Return a level book with the lengths of its sights put to use, and what was done in its notes."""
    from spadework.levels.sights import SightRules
    from spadework.levels.wording import Wording
    from spadework.readings import LevelBook

    book = recognised.reading
    if not isinstance(book, LevelBook):
        if peg_test is None and not curvature:
            return recognised
        rule = "only a level book has lengths of sights to correct for"
        raise InputError(Fault(f"it was {recognised.sentence}", rule, "Leave --peg-test and --curvature out"))
    from spadework.survey_sights import book_with_sights, peg_words

    words = Wording.of_book(book.reading_resolution, unit)
    rules = SightRules() if curvature else None
    if peg_test is not None:
        from spadework.read.peg_file import read_peg_test

        test = read_peg_test(peg_test, units=unit)
        rules = SightRules(test.collimation, peg_words(test, words))
    book, said, notices = book_with_sights(book, rules, words)
    return replace(recognised, reading=book, notes=(*recognised.notes, *said, *notices))


def _level_net(
    recognised: Recognised,
    known: tuple[str, ...],
    unit: LengthUnit | None,
    rule: Tolerance,
    precision: Precision,
    *,
    allow_misclosure: bool,
    as_json: bool,
) -> None:
    """Adjust levelled lines and print them; a loop over the tolerance is raised afterwards."""
    from typing import cast

    from spadework.cli.net import level_net_for_programs, print_level_net
    from spadework.levels.net_book import reduce_level_net
    from spadework.levels.wording import unit_of_step
    from spadework.readings import LevelNetLines

    lines = cast("LevelNetLines", recognised.reading)
    own = unit or unit_of_step(lines.reading_resolution)
    if not known:
        what = "lines alone have no level to count from"
        remedy = f'Give it so: --known "{lines.start[0]}=100.0"'
        raise InputError(Fault(what, "one point's level must be known", remedy, Source(lines.file)))
    levels = _known_levels(known, own)
    options: dict[str, Any] = {"tolerance": rule, "weights": precision.weights, "precision": precision, "unit": own}
    failure: MisclosureError | None = None
    try:
        reduced = reduce_level_net(lines, levels, allow_misclosure=allow_misclosure, **options)
    except MisclosureError as error:
        failure = error
        reduced = reduce_level_net(lines, levels, allow_misclosure=True, **options)
    if as_json:
        print_json({"read_as": str(recognised), **level_net_for_programs(reduced)})
    else:
        print_level_net(reduced, recognised)
    if failure is not None:
        raise failure


def _precision(
    instrument: str | None, sd: str | None, weights: Literal["set-ups", "distance"], unit: LengthUnit | None
) -> Precision:
    """Return how sure one reading is: as given, or by its instrument."""
    from spadework.levels.fit import Precision, instrument_precision
    from spadework.units import LengthUnit

    if sd is not None:
        value = _option_length("--sd", sd, unit or LengthUnit.METRE)
        if not 0 < value < 1:
            rule = "a standard deviation lies between 0 and 1 m"
            raise InputError(Fault(f"--sd {sd!r} is none", rule, 'Write it so: --sd "3 mm"', value=sd))
        return Precision(value, weights, "given")
    if instrument:
        return instrument_precision(instrument, weights=weights)
    return instrument_precision(weights=weights, assumed=True)


def _reduction(
    recognised: Recognised, known: tuple[str, ...], unit: LengthUnit | None, options: dict[str, Any]
) -> Callable[[bool], ReducedLevels]:
    """Return what reduces the readings, with or without leave for a misclosure."""
    from spadework.levels import reduce_level_book
    from spadework.levels.wording import unit_of_step
    from spadework.readings import LevelBook, RodList

    reading = recognised.reading
    if isinstance(reading, LevelBook):
        own = unit or unit_of_step(reading.reading_resolution)
        levels = _known_levels(known, own)
        return lambda allow: reduce_level_book(reading, levels, allow_misclosure=allow, unit=own, **options)
    if isinstance(reading, RodList):
        from spadework.levels import reduce_rod_list

        if not known:
            first = next(iter(reading.point), "BM1")
            raise InputError(
                Fault(
                    "rod readings alone have no level to count from",
                    "one point's level must be known, or be given a number of your own",
                    f'Give it so: --known "{first}=100.0"',
                    Source(reading.file),
                )
            )
        own = unit or unit_of_step(reading.reading_resolution)
        levels = _known_levels(known, own)
        return lambda allow: reduce_rod_list(reading, levels, allow_misclosure=allow, unit=own, **options)[1]
    raise InputError(
        Fault(
            f"it was {recognised.sentence}",
            "only a level book or a list of rod readings has set-ups to reduce",
            "For the ground that it describes, name it in a site file: spadework ground SITE",
            Source(reading.file),
        )
    )


def _known_levels(known: tuple[str, ...], unit: LengthUnit) -> dict[str, float]:
    """Return the levels given as ``BM1=100.0``. [m]"""
    return {name: level for name, (level, _) in _given_levels(known, unit).items()}


def _bench_sd(known: tuple[str, ...], unit: LengthUnit) -> dict[str, float]:
    """Return the standard deviations given as ``BM1=100.0 +- 3 mm``. [m]"""
    return {name: sd for name, (_, sd) in _given_levels(known, unit).items() if sd > 0}


def _given_levels(known: tuple[str, ...], unit: LengthUnit) -> dict[str, tuple[float, float]]:
    """Return the levels given, each with its standard deviation, 0 where it has none. [m]"""
    levels, faults = {}, []
    for text in known:
        name, equals, value = text.rpartition("=")
        if not equals or not name.strip():
            faults.append(
                Fault(f"--known {text!r} is no name and level", 'write it so: --known "BM1=100.0"', value=text)
            )
            continue
        level, _, sd = value.replace("±", "+-").partition("+-")
        try:
            spread = _option_length("--known", sd, unit) if sd.strip() else 0.0
            levels[name.strip()] = _option_length("--known", level, unit), spread
        except InputError as error:
            faults.extend(error.faults)
            continue
        if not 0 <= spread < 1:
            faults.append(Fault(f"--known {text!r}: {sd.strip()} is no standard deviation", "it lies from 0 to 1 m"))
    if faults:
        raise InputError(faults)
    return levels


def _option_length(option: str, text: str, unit: LengthUnit) -> float:
    """Return a length given as an option. [m]"""
    from spadework.units import parse_length

    return parse_length(text.strip(), unit, source=Source(option))
