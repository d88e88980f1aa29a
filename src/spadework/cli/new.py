"""``spadework new``: write a small starter site that runs as it is, and a form to print for the readings."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from spadework.cli.printing import AS_JSON, print_json
from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.cli.starter import Starter
    from spadework.units import LengthUnit

FORM = "reading-form.html"
LARGEST = 100.0  # longest side that a starter yard is made for [m]


KINDS = ("laser", "string", "raster")
UNITS = ("m", "ft", "ft-in")
TOOLS = ("rotary-laser", "builders-level", "hand-level", "string-line", "water-level", "lidar")


@click.command(
    short_help="Write a small starter site that runs as it is, and a form for your readings.",
    epilog="""\b
Examples:
  spadework new my-garden                            # asks, on a terminal
  spadework new my-garden --instrument builders-level --units m --pad "3.6m x 2.4m"
  spadework new my-garden --kind string --units ft-in
""",
)
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--kind",
    type=click.Choice(KINDS),
    help="What you measure with: a laser or level and a rod; a string line over a taped grid; an elevation raster.  "
    "[default: laser]",
)
@click.option("--instrument", type=click.Choice(TOOLS), help="The same, named: decides the kind.")
@click.option(
    "--units",
    type=click.Choice(UNITS),
    help="Unit of everything: metres, decimal feet, or feet and inches.  [default: m]",
)
@click.option("--pad", metavar="LxW", help='Size of the pad, such as "4m x 3m" or "12ft x 10ft".')
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), help="Paper of the form.  [default: A4 for metres, Letter for feet]"
)
@click.option(
    "--ask/--no-ask",
    default=None,
    help="Ask for instrument, unit and pad, or do not.  [default: ask on a terminal where none of them is given]",
)
@AS_JSON
def new(
    *,
    folder: Path,
    kind: str | None,
    instrument: str | None,
    units: str | None,
    pad: str | None,
    paper: str | None,
    ask: bool | None,
    as_json: bool,
) -> None:
    """Write a small starter site into the folder DIR, which must be new or empty.

    The readings in it are made up, so that the next command shows a whole result at once. Then put your own readings
    in their place, and what you want to build into site.toml. reading-form.html is a blank form to print: how to take
    the readings with your instrument, how far apart for this pad, and lines to write them on.
    """
    from spadework.cli.starter import DEFAULT_PAD, INSTRUMENTS, Starter, starter_files, usual_instrument
    from spadework.units import LengthUnit

    _check_folder(folder)
    if ask is None:
        ask = sys.stdin.isatty() and not any((kind, instrument, units, pad))
    if ask:
        instrument = instrument or _question("What do you measure with?", TOOLS, usual_instrument(kind or "laser"))
        units = units or _question("In which unit?", UNITS, "m")
        pad = pad or _asked_pad(LengthUnit(units), " x ".join(DEFAULT_PAD[LengthUnit(units)]))
    if instrument is not None and kind not in (None, INSTRUMENTS[instrument]):
        raise InputError(
            Fault(
                f"--kind {kind} and --instrument {instrument} do not go together",
                f"{instrument} gives readings of kind {INSTRUMENTS[instrument]}",
                "Give one of them",
            )
        )
    made = INSTRUMENTS[instrument] if instrument else kind or "laser"
    unit = LengthUnit(units or "m")
    sides = DEFAULT_PAD[unit] if pad is None else _sides(pad, unit)
    starter = Starter(folder.resolve().name, made, unit, sides, _longest(sides), instrument or "")
    files = {name: text.encode("utf-8") for name, text in starter_files(starter).items()} | _form(starter, paper)
    _write(folder, files)
    if as_json:
        print_json({"folder": str(folder), "files": sorted(files)})
        return
    click.echo(f"Written into {folder}: {', '.join(sorted(files))}.")
    if FORM in files:
        click.echo(f"Print {FORM} and take it out: it says how to take the readings, and how far apart.")
    click.echo("The readings are made up: put your own in their place.")
    click.echo(f"Next: spadework plan {folder}")


def _question(text: str, choices: tuple[str, ...], usual: str) -> str:
    """Ask for one of several words, on standard error, until one of them is given."""
    answer: str = click.prompt(text, type=click.Choice(choices), default=usual, err=True)
    return answer


def _asked_pad(unit: LengthUnit, usual: str) -> str:
    """Ask for the size of the pad until it can be read."""

    def read(text: str) -> str:
        try:
            _sides(text, unit)
        except InputError as error:
            raise click.UsageError(str(error)) from None
        return text

    answer: str = click.prompt("How large is the pad?", default=usual, value_proc=read, err=True)
    return answer


def _form(starter: Starter, paper: str | None) -> dict[str, bytes]:
    """Return the form for the readings; none for a raster, which nobody writes down."""
    from spadework.cli.starter import usual_instrument
    from spadework.units import LengthUnit, parse_length
    from spadework.write.reading_form import FormFacts, reading_form, usual_paper

    if starter.kind == "raster":
        return {}
    length, width = (parse_length(side) for side in starter.pad)
    facts = FormFacts(
        name=starter.name,
        instrument=starter.instrument or usual_instrument(starter.kind),
        units=starter.units,
        length=length,
        width=width,
        paper=paper or usual_paper(starter.units),
        bench="100 m" if starter.units is LengthUnit.METRE else "100 ft",
    )
    return {FORM: reading_form(facts)}


def _sides(text: str, unit: LengthUnit) -> tuple[str, str]:
    """Return the two sides of ``4m x 3m``, each with its unit."""
    from spadework.units import LengthUnit, parse_length

    sides = re.split(r"\s*(?:[x×*]|\bby\b)\s*", text.strip(), flags=re.IGNORECASE)
    if len(sides) != 2:
        raise InputError(
            Fault(f"--pad {text!r} is not a length and a width", 'write both with an x between: "4m x 3m"', value=text)
        )
    written = []
    for side in sides:
        size = parse_length(side, unit, source=Source("--pad"))
        if not 0.1 <= size <= LARGEST:
            rule = f"a side of a starter pad is from 0.1 to {LARGEST:g} m"
            raise InputError(
                Fault(f"--pad {text!r}: {side!r} is too {'big' if size > 1 else 'small'}", rule, value=side)
            )
        plain = re.fullmatch(r"[\d.,]+", side) is not None
        written.append(f"{side} {unit.value}" if plain and unit is not LengthUnit.FOOT_INCH else side)
    return written[0], written[1]


def _longest(sides: tuple[str, str]) -> float:
    """Return the longer of two sides. [m]"""
    from spadework.units import parse_length

    return max(parse_length(side) for side in sides)


def _check_folder(folder: Path) -> None:
    """Refuse a folder that holds anything."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        held = "is a file" if folder.is_file() else "is not empty"
        raise InputError(
            Fault(f"{folder} {held}", "a starter site goes into a new or an empty folder", "Give another name")
        )


def _write(folder: Path, files: dict[str, bytes]) -> None:
    """Write the files into a folder that is new or empty, all of them or none."""
    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    try:
        for name, content in files.items():
            written.append(folder / name)
            written[-1].write_bytes(content)
    except OSError:
        for path in written:
            path.unlink(missing_ok=True)
        if made:
            folder.rmdir()
        raise
