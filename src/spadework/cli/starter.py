"""The invented surveys that ``spadework new`` writes: small, complete, and meant to be overwritten with your own."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass

from spadework.units import FOOT, LengthUnit, format_length

__all__ = ["DEFAULT_PAD", "INSTRUMENTS", "STARTERS", "Starter", "starter_files", "usual_instrument"]

STARTERS = ("laser", "string", "raster")
INSTRUMENTS = {
    "rotary-laser": "laser",
    "builders-level": "laser",
    "hand-level": "laser",
    "string-line": "string",
    "water-level": "string",
    "lidar": "raster",
}
"""The kind of starter for each instrument; the first of a kind is its usual one."""
DEFAULT_PAD = {
    LengthUnit.METRE: ("4 m", "3 m"),
    LengthUnit.FOOT: ("12 ft", "10 ft"),
    LengthUnit.FOOT_INCH: ("12 ft", "10 ft"),
}
BEAM_ABOVE_DATUM = 1.4  # of the laser over its bench mark, and about what a person sets up [m]
CELL = 1.0  # of the raster [m]

# What a person would write, in metric and in feet and inches.
METRIC = {"setback": "500 mm", "strip": "75 mm", "layer": "100 mm", "edge": "600 mm", "radius": "1.2 m"}
CUSTOMARY = {"setback": "2 ft", "strip": "3 in", "layer": "4 in", "edge": "24 in", "radius": "4 ft"}

SITE = """\
# Made up, so that it runs as it is. Put your own readings in {readings}, then change what follows.

[site]
name  = {name}
units = "{units}"  # plain numbers are: "m", "ft" (decimal feet), "ft-in" (feet and inches)
{datum}
[[readings]]
file = "{readings}"{paste}
{instrument}
[boundary]
{boundary}setback = "{setback}"  # how far inside it the pad stays
{keep_out}
[pad]
size     = ["{length}", "{width}"]  # or building and margin; notch makes an L; or diameter, or corners
strip    = "{strip}"  # turf and topsoil, taken off first
build-up = [{{ material = "clean-stone-20", depth = "{layer}" }}]
edge     = {{ kind = "timber" }}

[goal]
least  = "digging"  # or "balance"
limits = {{ exposed-edge = "{edge}" }}

[soil]
kind = "loam"
{stakes}"""

LASER = {
    "datum": 'datum = {{ point = "BM1", level = "100 {foot_or_metre}" }}  # the level you give your bench mark\n',
    "instrument": 'instrument = "{instrument}"\n',
    "boundary": 'points  = ["F1", "F2", "F3", "F4"]  # shots, in order round the yard\n',
    "keep_out": '\n[[keep-out]]\nname   = "plum tree"\nat     = "T1"  # a shot\nradius = "{radius}"\n',
    "stakes": '\n[stakes]\nreferences = ["H1", "H2"]  # two fixed points to tape from\n',
}
STRING = {
    "datum": "",
    "instrument": 'instrument = "{instrument}"\nline-level = "100 {foot_or_metre}"  '
    "# the level you give the string; drops are measured down from it\n",
    "boundary": "",
    "keep_out": "",
    "stakes": '\n[stakes]\nreferences = ["A1", "F1"]  # pegs at the two ends of the first row\n',
}
RASTER = {
    "datum": 'crs   = "local"  # the axes of the raster are plain metres; or its coordinate reference system\n',
    "instrument": "",
    "boundary": "",
    "keep_out": "",
    "stakes": "",
}
PASTE = '  # or "-", and paste them: spadework plan DIR < my-readings.txt'
REMARKS_AT = 38


@dataclass(frozen=True, slots=True)
class Starter:
    """What a starter site is made for.

    Parameters
    ----------
    name : str
        Name of the site.
    kind : str
        One of `STARTERS`.
    units : LengthUnit
        Unit that everything is written in.
    pad : (str, str)
        Length and width of the pad, as the user wrote them.
    longest : float
        The longer of the two. [m]
    instrument : str
        One of `INSTRUMENTS`; the usual one of its kind where it is empty.
    """

    name: str
    kind: str
    units: LengthUnit
    pad: tuple[str, str]
    longest: float
    instrument: str = ""

    @property
    def unit(self) -> float:
        """One metre or one foot. [m]"""
        return 1.0 if self.units is LengthUnit.METRE else FOOT

    @property
    def spacing(self) -> float:
        """Distance between neighbouring shots: a whole number of the user's unit, in a yard that the pad fits. [m]"""
        return math.ceil((self.longest + 5.0) / 2.5 / self.unit) * self.unit

    def cell(self, metres: float, decimals: int | None = None) -> str:
        """Return a length as it stands in a file whose plain numbers are in the user's unit."""
        if self.units is not LengthUnit.FOOT_INCH:
            return format_length(metres, self.units, step=decimals, with_unit=False)
        eighths = round(metres / FOOT * 96)
        sign, (feet, rest) = "-" if eighths < 0 else "", divmod(abs(eighths), 96)
        inches, parts = divmod(rest, 8)
        words = [f"{inches}", *([f"{parts // math.gcd(parts, 8)}/{8 // math.gcd(parts, 8)}"] if parts else [])]
        return f"{sign}{feet} ft {' '.join(words)} in" if rest else f"{sign}{feet} ft"


def usual_instrument(kind: str) -> str:
    """Return the instrument that a kind of starter is made for where nobody names one."""
    return next(name for name, made in INSTRUMENTS.items() if made == kind)


def starter_files(starter: Starter) -> dict[str, str]:
    """Return the texts of a starter site by the names of their files.

    Parameters
    ----------
    starter : Starter
        What it is made for.
    """
    readings, text, parts = {
        "laser": ("shots.csv", _shots, LASER),
        "string": ("drops.txt", _drops, STRING),
        "raster": ("ground.asc", _raster, RASTER),
    }[starter.kind]
    amounts = METRIC if starter.units is LengthUnit.METRE else CUSTOMARY
    instrument = starter.instrument or usual_instrument(starter.kind)
    foot_or_metre = "m" if starter.units is LengthUnit.METRE else "ft"
    site = SITE.format(
        name=json.dumps("".join(filter(str.isprintable, starter.name)), ensure_ascii=False),
        units=starter.units.value,
        readings=readings,
        paste="" if starter.kind == "raster" else PASTE,
        length=starter.pad[0],
        width=starter.pad[1],
        **{
            key: part.format(foot_or_metre=foot_or_metre, instrument=instrument, **amounts)
            for key, part in parts.items()
        },
        **{key: amount for key, amount in amounts.items() if key != "radius"},
    )
    aligned = re.sub(r"^(\S.*?) {2,}(?=# )", lambda line: f"{line[1]:<{REMARKS_AT}}  ", site, flags=re.MULTILINE)
    return {"site.toml": aligned, readings: text(starter)}


def depth_below_datum(east: float, north: float) -> float:
    """Return how far an invented slope lies below the datum. [m]

    It falls 3 in 100 to the east and 2 in 100 to the north, with a wave of 60 mm on it. No source: it is made up.
    """
    return 0.4 + 0.03 * east + 0.02 * north - 0.06 * math.sin(east / 3.0) * math.cos(north / 4.0)


def _shots(starter: Starter) -> str:
    """Return the text of a list of shots from one set-up of a laser."""
    step, decimals = starter.spacing, 2 if starter.units is LengthUnit.METRE else 1
    heading = "" if starter.units is LengthUnit.FOOT_INCH else f" ({starter.units.value})"
    rows = [
        f"setup,point,east{heading},north{heading},rod{heading},note",
        f"S1,BM1,,,{starter.cell(BEAM_ABOVE_DATUM)},doorstep",
    ]

    def shoot(point: str, across: float, along: float, note: str = "") -> None:
        east, north = across * step, along * step
        rod = starter.cell(BEAM_ABOVE_DATUM + depth_below_datum(east, north))
        rows.append(f"S1,{point},{starter.cell(east, decimals)},{starter.cell(north, decimals)},{rod},{note}")

    for number, corner in enumerate(((0, 0), (5, 0), (5, 4), (0, 4)), 1):
        shoot(f"F{number}", *corner, "fence corner")
    shoot("H1", 0, -0.5, "house corner")
    shoot("H2", 2, -0.5, "house corner")
    shoot("T1", 4, 3, "plum tree")
    taken = {(0, 0), (5, 0), (5, 4), (0, 4), (4, 3)}
    places = [(across, along) for along in range(5) for across in range(6) if (across, along) not in taken]
    for number, place in enumerate(places, 1):
        shoot(str(number), *place)
    return "\n".join(rows) + "\n"


def _drops(starter: Starter) -> str:
    """Return the text of a grid of drops below a string."""
    across = [number * starter.spacing for number in range(6)]
    rows = ["\t".join(["drop", *(starter.cell(east) for east in across)])]
    for along in (number * starter.spacing for number in range(5)):
        drops = (starter.cell(depth_below_datum(east, along)) for east in across)
        rows.append("\t".join([starter.cell(along), *drops]))
    return "\n".join(rows) + "\n"


def _raster(starter: Starter) -> str:
    """Return the text of an elevation raster, in metres whatever the user's unit."""
    columns, rows = (math.ceil(count * starter.spacing / CELL) for count in (5, 4))
    head = f"ncols {columns}\nnrows {rows}\nxllcorner 0\nyllcorner 0\ncellsize {CELL}\nNODATA_value -9999\n"
    body = (
        " ".join(
            f"{100.0 - depth_below_datum((column + 0.5) * CELL, (rows - row - 0.5) * CELL):.3f}"
            for column in range(columns)
        )
        for row in range(rows)
    )
    return head + "\n".join(body) + "\n"
