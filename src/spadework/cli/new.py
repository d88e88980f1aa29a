"""``spadework new``: write a small starter site that runs as it is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from spadework.cli.printing import AS_JSON, print_json
from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.units import LengthUnit

LARGEST = 100.0  # longest side that a starter yard is made for [m]


@click.command(
    short_help="Write a small starter site that runs as it is.",
    epilog="""\b
Examples:
  spadework new my-garden                            # shots of a laser, in metres
  spadework new my-garden --kind string --units ft-in
  spadework new my-garden --pad "3.6m x 2.4m"
""",
)
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--kind",
    type=click.Choice(["laser", "string", "raster"]),
    default="laser",
    show_default=True,
    help="What you measure with: a laser or level and a rod; a string line over a taped grid; an elevation raster.",
)
@click.option(
    "--units",
    type=click.Choice(["m", "ft", "ft-in"]),
    default="m",
    show_default=True,
    help="Unit of everything: metres, decimal feet, or feet and inches.",
)
@click.option("--pad", metavar="LxW", help='Size of the pad, such as "4m x 3m" or "12ft x 10ft".')
@AS_JSON
def new(*, folder: Path, kind: str, units: str, pad: str | None, as_json: bool) -> None:
    """Write a small starter site into the folder DIR, which must be new or empty.

    The readings in it are made up, so that the next command shows a whole result at once. Then put your own readings
    in their place, and what you want to build into site.toml.
    """
    from spadework.cli.starter import DEFAULT_PAD, Starter, starter_files
    from spadework.units import LengthUnit

    unit = LengthUnit(units)
    sides = DEFAULT_PAD[unit] if pad is None else _sides(pad, unit)
    starter = Starter(folder.resolve().name, kind, unit, sides, _longest(sides))
    files = starter_files(starter)
    _write(folder, files)
    if as_json:
        print_json({"folder": str(folder), "files": sorted(files)})
        return
    click.echo(f"Written into {folder}: {', '.join(sorted(files))}.")
    click.echo("The readings are made up: put your own in their place.")
    click.echo(f"Next: spadework plan {folder}")


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


def _write(folder: Path, files: dict[str, str]) -> None:
    """Write the files into a folder that is new or empty, all of them or none."""
    made = not folder.exists()
    if not made and (not folder.is_dir() or any(folder.iterdir())):
        held = "is a file" if folder.is_file() else "is not empty"
        raise InputError(
            Fault(f"{folder} {held}", "a starter site goes into a new or an empty folder", "Give another name")
        )
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    try:
        for name, text in files.items():
            written.append(folder / name)
            written[-1].write_text(text, encoding="utf-8")
    except OSError:
        for path in written:
            path.unlink(missing_ok=True)
        if made:
            folder.rmdir()
        raise
