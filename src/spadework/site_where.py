"""The tables of a site file that say where the pad may lie: its bearing, position, finish level, front and reach."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag

from spadework.errors import UnitError
from spadework.site_table import Table
from spadework.site_values import Bearing, Finish, Length, Place, Position, Text, between, refuse, text_or_table, word
from spadework.units import parse_angle

__all__ = [
    "BearingTable",
    "Directions",
    "FacesTable",
    "FinishLevel",
    "FinishTable",
    "ReachTable",
    "Stands",
    "StandsTable",
]

Height = Annotated[float, between(0.0, 100.0, "a height from 0 to 100 m; above and below say which way")]
Distance = Annotated[float, between(0.0, 10_000.0, "a distance from 0 to 10 km")]


def _angle(low: float, high: float, rule: str) -> BeforeValidator:
    """Return a reader of degrees, as a number or as text."""

    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise refuse("is not an angle", rule)
        try:
            degrees = parse_angle(value) if isinstance(value, str) else float(value)
        except UnitError as error:
            raise refuse(f": {error.faults[0].what}", rule, error.faults[0].remedy) from None
        if not low <= degrees <= high:
            raise refuse("is out of reach", rule)
        return degrees

    return BeforeValidator(read)


Turn = Annotated[float, _angle(0.0, 360.0, "degrees clockwise from site north, from 0 to 360, such as 45")]
Within = Annotated[float, _angle(0.0, 180.0, 'degrees to either side, from 0 to 180, such as 30 or "30 deg"')]
Line = Annotated[tuple[Text, Text], Field(strict=False)]


class BearingTable(Table):
    """A direction by a line of the site, or a range of bearings."""

    parallel_to: Line | None = Field(default=None, description='two shots on the line: ["H1", "H2"]')
    square_to: Line | None = Field(default=None, description='two shots on a line that it crosses: ["H1", "H2"]')
    start: Turn | None = Field(
        default=None, alias="from", description="the first bearing of a range, in degrees clockwise from site north"
    )
    to: Turn | None = Field(default=None, description="the last bearing of a range, clockwise from the first")


class StandsTable(Table):
    """A point of the pad and where it stands."""

    corner: Text | None = Field(default=None, description='the letter of a corner, such as "A"; the middle if left out')
    at: Place = Field(description='where it stands: the name of a shot such as "P1", or [east, north]')


class FinishTable(Table):
    """Bounds of the finish level: levels, or heights above and below a point of the survey."""

    point: Text | None = Field(default=None, description='the point that heights count from, such as "DOOR"')
    below: Height | None = Field(default=None, description='just so far below the point, such as "150 mm"')
    above: Height | None = Field(default=None, description='just so far above the point, such as "150 mm"')
    most_below: Height | None = Field(default=None, description='at most so far below the point, such as "150 mm"')
    least_below: Height | None = Field(default=None, description='at least so far below the point, such as "50 mm"')
    most_above: Height | None = Field(default=None, description='at most so far above the point, such as "150 mm"')
    least_above: Height | None = Field(default=None, description='at least so far above the point, such as "50 mm"')
    lowest: Length | None = Field(default=None, description='the lowest finish level, such as "99.8 m"')
    highest: Length | None = Field(default=None, description='the highest finish level, such as "100.2 m"')


class FacesTable(Table):
    """Which way the front of the pad must look."""

    towards: Place | None = Field(default=None, description="a point to face: the name of a shot, or [east, north]")
    bearing: Turn | None = Field(default=None, description="a bearing to face, in degrees clockwise from site north")
    within: Within = Field(default=45.0, description='how far off it may look to either side, such as "30 deg"')


class ReachTable(Table):
    """A point that the pad must not lie too far from."""

    name: Text | None = Field(default=None, description='what it is, such as "tap"')
    start: Place = Field(alias="from", description='the point: the name of a shot such as "TAP", or [east, north]')
    distance: Distance = Field(description='the greatest distance, such as "15 m"')
    to: Annotated[Literal["nearest", "middle", "farthest"], word("nearest", "middle", "farthest")] = Field(
        default="nearest", description='to the "nearest" point of the pad, its "middle", or its "farthest" point'
    )


FinishLevel = Annotated[
    Annotated[Finish, Tag("<level>")] | Annotated[FinishTable, Tag("<window>")], text_or_table("<level>", "<window>")
]
Directions = Annotated[
    Annotated[Bearing, Tag("<bearing>")]
    | Annotated[BearingTable, Tag("<line>")]
    | Annotated[Annotated[tuple[BearingTable, ...], Field(strict=False)], Tag("<ranges>")],
    Discriminator(
        lambda value: "<ranges>" if isinstance(value, list | tuple) else "<line>" if _is_table(value) else "<bearing>"
    ),
]
Stands = Annotated[
    Annotated[
        Literal["free", "drawn"],
        word("free", "drawn", rule='"free", "drawn", or the middle of the pad: [east, north]'),
        Tag("<word>"),
    ]
    | Annotated[Position, Tag("<position>")]
    | Annotated[StandsTable, Tag("<stands>")],
    Discriminator(
        lambda value: "<stands>" if _is_table(value) else "<word>" if isinstance(value, str) else "<position>"
    ),
]


def _is_table(value: Any) -> bool:
    """Tell whether a value is written as a table."""
    return isinstance(value, dict | Table)
