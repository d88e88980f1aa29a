"""The tables of a site file that say how positions were measured: baselines, grids, strings, tapes and codes."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, Tag

from spadework.levels.pegs import PegTest
from spadework.positions.tape import STEEL_EXPANSION, STEEL_MODULUS, Tape
from spadework.site_table import Table
from spadework.site_values import Direction, Length, Place, Text, between, refuse, text_or_table, word

__all__ = [
    "FITS",
    "ROLES",
    "BaselineTable",
    "Codes",
    "FeatureTable",
    "GridTable",
    "KnownPlaces",
    "PegTable",
    "PegTestOf",
    "PositionsTable",
    "Strings",
    "TapeTable",
    "Zeros",
]

ADJUSTMENTS = ("least-squares", "compass", "none")
FITS = ("shift", "turn", "turn-scale")
ROLES = ("boundary", "reference", "keep-out", "line", "breakline", "none")

Spacing = Annotated[float, between(0.05, 100.0, "a spacing from 50 mm to 100 m")]
Clearance = Annotated[float, between(0.0, 1000.0, "a distance from 0 to 1 km")]
TapeLength = Annotated[float, between(0.5, 200.0, "a tape from 500 mm to 200 m")]

AMOUNT = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*(.*?)\s*", re.ASCII)
TEMPERATURES = {
    **dict.fromkeys(("c", "°c", "deg c"), (1.0, 0.0)),
    **dict.fromkeys(("f", "°f", "deg f"), (5 / 9, -160 / 9)),
}
POUND, KILOGRAM = 4.4482216152605, 9.80665
"""Weight of a pound and of a kilogram under standard gravity, exact by definition. [N]"""
FORCES = {
    "n": 1.0,
    **dict.fromkeys(("kg", "kgf"), KILOGRAM),
    **dict.fromkeys(("lb", "lbf", "lbs"), POUND),
}
WEIGHTS = {
    "n/m": 1.0,
    "g/m": KILOGRAM / 1000.0,
    "kg/m": KILOGRAM,
    **dict.fromkeys(("lb/ft", "lbs/ft"), POUND / 0.3048),
}
AREAS = {"mm2": 1e-6, "mm²": 1e-6, "in2": 0.0254**2, "in²": 0.0254**2}


def quantity(units: dict[str, Any], low: float, high: float, example: str) -> BeforeValidator:
    """Return a reader of a number with one of some units, between two bounds in the basic unit."""

    def read(value: Any) -> float:
        found = AMOUNT.fullmatch(value) if isinstance(value, str) else None
        unit = units.get(found.group(2).casefold()) if found else None
        if found is None or unit is None:
            raise refuse("is not understood", f"write it with its unit ({', '.join(units)}), such as {example}")
        factor, shift = unit if isinstance(unit, tuple) else (unit, 0.0)
        amount = float(found.group(1)) * float(factor) + float(shift)
        if not low <= amount <= high:
            raise refuse("is out of reach", f"such as {example}", "is the unit right?")
        return amount

    return BeforeValidator(read)


Temperature = Annotated[float, quantity(TEMPERATURES, -60.0, 90.0, '"22 C" or "72 F"')]
Force = Annotated[float, quantity(FORCES, 1.0, 2000.0, '"50 N" or "12 lb"')]
Weight = Annotated[float, quantity(WEIGHTS, 0.001, 100.0, '"0.2 N/m" or "0.028 lb/ft"')]
Area = Annotated[float, quantity(AREAS, 1e-8, 1e-3, '"3 mm2" or "0.005 in2"')]


class TapeTable(Table):
    """A tape and how it was held."""

    length: TapeLength = Field(description='its length by its marks, such as "30 m"')
    true_length: TapeLength | None = Field(default=None, description='its length in truth, such as "30.006 m"')
    temperature: Temperature | None = Field(default=None, description='of the tape in the field, such as "5 C"')
    standard_temperature: Temperature = Field(
        default=20.0, description='at which it is right, such as "20 C" or "68 F"'
    )
    pull: Force | None = Field(default=None, description='the pull in the field, such as "50 N"')
    standard_pull: Force | None = Field(default=None, description='the pull at which it is right, such as "50 N"')
    area: Area | None = Field(default=None, description='the cross-section of the tape, such as "3 mm2"')
    weight: Weight | None = Field(default=None, description='the weight of a tape that hung free, such as "0.2 N/m"')
    span: TapeLength | None = Field(default=None, description="the distance between supports of a tape that hung free")

    @property
    def tape(self) -> Tape:
        """The tape."""
        return Tape(
            nominal=self.length,
            actual=self.true_length if self.true_length is not None else self.length,
            temperature=self.temperature if self.temperature is not None else self.standard_temperature,
            standard_temperature=self.standard_temperature,
            expansion=STEEL_EXPANSION,
            pull=self.pull or 0.0,
            standard_pull=self.standard_pull or self.pull or 0.0,
            area=self.area or 0.0,
            modulus=STEEL_MODULUS,
            weight=self.weight or 0.0,
            span=self.span or 0.0,
        )


class BaselineTable(Table):
    """A line along which stations are counted."""

    start: Place = Field(alias="from", description="a point on the line: the name of a shot, or [east, north]")
    to: Place | None = Field(default=None, description="another, further along: the name of a shot, or [east, north]")
    bearing: Direction | None = Field(default=None, description="its direction, in degrees clockwise from site north")
    station: Length = Field(default=0.0, description="the station of the first point, such as 0 or 100")


def _spacings(value: Any) -> Any:
    """Read one spacing as two equal ones."""
    return value if isinstance(value, list) else [value, value]


class GridTable(Table):
    """A grid whose columns have letters and whose rows have numbers."""

    spacing: Annotated[tuple[Spacing, Spacing], BeforeValidator(_spacings), Field(strict=False)] = Field(
        description='the side of its squares, such as "2 m", or [between letters, between numbers]'
    )
    origin: Place = Field(default=(0.0, 0.0), description="where A1 lies: the name of a shot, or [east, north]")
    bearing: Direction = Field(default=0.0, description="the direction in which numbers grow, in degrees from north")


class StringTable(Table):
    """A string between two pegs."""

    start: Place = Field(alias="from", description="the peg that distances count from: a shot, or [east, north]")
    to: Place = Field(description="the other peg: a shot, or [east, north]")
    level: Length | None = Field(default=None, description='the level of the string, such as "100 m"')
    end_level: Length | None = Field(default=None, description="its level at the other peg, where it was not level")


Strings = dict[str, StringTable]
Zeros = dict[str, Direction]


class PegTable(Table):
    """A two-peg test: both pegs read from midway between them, then from close to the first."""

    a1: Length = Field(description='the reading on peg A from midway, such as "1.432 m"')
    b1: Length = Field(description='the reading on peg B from midway, such as "1.218 m"')
    a2: Length = Field(description='the reading on peg A from close to it, such as "1.503 m"')
    b2: Length = Field(description='the reading on peg B from there, such as "1.301 m"')
    apart: Annotated[float, between(2.0, 400.0, "pegs from 2 to 400 m apart")] = Field(
        description='how far the pegs are apart, such as "60 m"'
    )
    near: Length = Field(
        default=0.0, description="how far the second set-up stood behind peg A; minus where it stood between the pegs"
    )

    @property
    def test(self) -> PegTest:
        """The test itself.

        Raises
        ------
        InputError
            When both set-ups see the pegs at nearly the same distances.
        """
        half, behind = self.apart / 2.0, self.apart + self.near
        return PegTest(self.a1, self.b1, self.a2, self.b2, (half, half), (abs(self.near), behind))


PegTestOf = Annotated[
    Annotated[Text, Tag("<file>")] | Annotated[PegTable, Tag("<test>")], text_or_table("<file>", "<test>")
]


class PositionsTable(Table):
    """How places measured from several sides are brought to one."""

    adjust: Annotated[Literal["least-squares", "compass", "none"], word(*ADJUSTMENTS)] = Field(
        default="least-squares",
        description='"least-squares" (all ties, sights and legs of the site as one net), "compass" (walks by their '
        'length, the rest as a net) or "none"',
    )


KnownPlaces = dict[str, Annotated[tuple[Length, ...], Field(strict=False, min_length=2, max_length=3)]]


class FeatureTable(Table):
    """What a code in the notes makes of the points that carry it."""

    role: Annotated[Literal["boundary", "reference", "keep-out", "line", "breakline", "none"], word(*ROLES)] = Field(
        description=f"what the points become: {', '.join(ROLES)}"
    )
    clearance: Clearance | None = Field(default=None, description='the distance to keep from it, such as "1 m"')


def _role(value: Any) -> Any:
    """Read a role alone as a table that holds it."""
    return {"role": value} if isinstance(value, str) else value


Codes = dict[Text, Annotated[FeatureTable, BeforeValidator(_role)]]
