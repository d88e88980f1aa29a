"""The tables of a site file that draw on the land: the ground with its lines and holes, the boundary, the keep-outs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag

from spadework.site_table import Table
from spadework.site_values import Corners, Flag, Length, Names, Place, Text, between, word, word_or_between

__all__ = ["Boundaries", "BoundaryTable", "BreaklineTable", "GroundTable", "HoleTable", "KeepOutTable", "LinePlaces"]

LinePlaces = Annotated[
    tuple[Annotated[tuple[Length, ...], Field(strict=False, min_length=2, max_length=3)], ...], Field(strict=False)
]
Reach = Annotated[float, between(0.0, 1000.0, "a distance from 0 to 1 km")]
Radius = Annotated[float, between(0.01, 1000.0, "a radius from 10 mm to 1 km")]
Trusted = Annotated[
    str | float,
    word_or_between(
        ("auto", "none"), 0.05, 1000.0, 'a reach from 50 mm to 1 km, "auto" (as far as the shots say) or "none"'
    ),
]
Gap = Annotated[float, between(0.0, 1000.0, "a width from 0 to 1 km")]


Ring = Annotated[tuple[Place, ...], Field(strict=False)]


class GroundTable(Table):
    """How the ground is drawn through the shots."""

    surface: Annotated[Literal["triangles", "smooth", "choose"], word("triangles", "smooth", "choose")] = Field(
        default="triangles",
        description='"triangles" between the shots, the "smooth" ground, or "choose": whichever shots left out say',
    )
    reach: Trusted = Field(
        default="auto",
        description='how far from a shot the ground is trusted: "5 m"; "auto" by the spacing of the shots; "none"',
    )
    points: Names = Field(default=(), description="the outline of the ground in order, by the names of shots")
    corners: Corners | None = Field(default=None, description="the outline of the ground: [[0, 0], [30, 0], [30, 20]]")
    file: Text | None = Field(default=None, description='a file with the outline of the ground: "measured.geojson"')
    gaps: Gap | None = Field(
        default=None,
        description='gaps of a raster no wider than this are filled: "3 m"; three cells if left out, 0 fills none',
    )


class BreaklineTable(Table):
    """A line along which the ground bends."""

    name: Text | None = Field(default=None, description='what it is, such as "top of bank"')
    points: Names = Field(default=(), description='its shots in order, by name: ["T1", "T2", "T3"]')
    corners: LinePlaces | None = Field(
        default=None, description="its places in order, with levels: [[0, 4, 100.2], [8, 5, 100.1]]"
    )
    file: Text | None = Field(
        default=None, description='a file with lines (GeoJSON) or a list of points in order, such as "bank.csv"'
    )


class HoleTable(Table):
    """A place where there is no ground: a pond, a house."""

    name: Text | None = Field(default=None, description='what it is, such as "pond"')
    points: Names = Field(default=(), description="its corners in order, by the names of shots")
    corners: Corners | None = Field(default=None, description="its corners in order: [[0, 0], [3, 0], [3, 2]]")
    file: Text | None = Field(default=None, description='a file with the outline, such as "house.geojson"')


class BoundaryTable(Table):
    """The plot that the pad must stay in."""

    points: Names = Field(default=(), description='the corners in order, by the names of shots: ["F1", "F2", "F3"]')
    corners: Corners | None = Field(default=None, description="the corners in order: [[0, 0], [30, 0], [30, 20]]")
    file: Text | None = Field(default=None, description='a file with the outline, such as "plot.geojson"')
    crs: Text | None = Field(
        default=None, description='the coordinate reference system of the file, over what it says; "site" for site axes'
    )
    setback: Reach = Field(default=0.0, description='how far inside the boundary the pad stays, such as "1 m"')
    holes: Annotated[tuple[Ring, ...], Field(strict=False)] = Field(
        default=(), description='what is cut out of it, each by its corners in order: [["P1", "P2", "P3"]]'
    )


class KeepOutTable(Table):
    """A place that the pad keeps clear of."""

    name: Text | None = Field(default=None, description="what it is, used in the explanations")
    at: Place | None = Field(default=None, description='the middle: the name of a shot such as "T1", or [east, north]')
    radius: Radius | None = Field(default=None, description='the radius about that middle, such as "2.5 m"')
    points: Names = Field(default=(), description="its corners in order, by the names of shots")
    corners: Corners | None = Field(default=None, description="its corners in order: [[0, 0], [3, 0], [3, 2]]")
    file: Text | None = Field(default=None, description='a file with the outline, such as "drain.geojson"')
    clearance: Reach = Field(default=0.0, description='the distance to keep beyond it, such as "500 mm"')
    code: Text | None = Field(
        default=None,
        description='every shot whose note begins with this code, such as "TREE"',
    )
    line: Flag = Field(default=False, description="true makes it a line, which ends where it ends: a drain, a fence")


Boundaries = Annotated[
    Annotated[BoundaryTable, Tag("<one>")]
    | Annotated[Annotated[tuple[BoundaryTable, ...], Field(strict=False)], Tag("<several>")],
    Discriminator(lambda value: "<several>" if isinstance(value, list | tuple) else "<one>"),
]
