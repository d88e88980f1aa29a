"""The table of the site file that says what is wanted: the pad's shape, layers and edge, and where it may lie."""

from __future__ import annotations

from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from spadework.errors import Fault, InputError, Source
from spadework.pad import BuildUp, Edge, Layer, Pad
from spadework.pad_rings import ring_faults
from spadework.pad_shapes import centred, circle, l_shape
from spadework.readings import FloatArray
from spadework.site_build import Beam
from spadework.site_table import Table
from spadework.site_values import (
    Corners,
    Slope,
    Text,
    between,
    word,
)
from spadework.site_where import Directions, FacesTable, FinishLevel, Stands

__all__ = [
    "EdgeTable",
    "LayerTable",
    "NotchTable",
    "PadTable",
    "pad_of",
]

Reach = Annotated[float, between(0.0, 1000.0, "a distance from 0 to 1 km")]
Side = Annotated[
    float,
    between(0.1, 1000.0, "a side from 100 mm to 1 km", "check the unit: is it mm, m, ft or in?"),
]
Strip = Annotated[
    float, between(0.0, 1.0, "turf and topsoil are stripped 0 to 1 m deep", "check the unit: is it mm, m, ft or in?")
]
Depth = Annotated[
    float,
    between(0.001, 2.0, "one layer is from 1 mm to 2 m deep", "is the unit right? A deeper build-up is two layers"),
]
Corner = Annotated[Literal["A", "B", "C", "D"], word("A", "B", "C", "D")]


class LayerTable(Table):
    """One layer of the build-up, the lowest first."""

    material: Text = Field(description='the material, such as "clean-stone-20"')
    depth: Depth = Field(description='the depth once compacted, such as "100 mm"')


class EdgeTable(Table):
    """How the pad meets the ground."""

    kind: Annotated[Literal["retained", "timber", "bank"], word("retained", "timber", "bank")] = Field(
        default="retained", description='"timber" or "retained" (vertical sides), or "bank"'
    )
    beam: Beam | None = Field(default=None, description='the section of the timber as it is sold, such as "100 x 150"')
    cut: Slope | None = Field(default=None, description='the slope of a bank in cut: "1:1.5" is 1 up in 1.5 along')
    fill: Slope | None = Field(default=None, description='the slope of a bank in fill: "1:2" is 1 up in 2 along')
    corners: Annotated[Literal["mitred", "round"], word("mitred", "round")] | None = Field(
        default=None,
        description='how banks go round outward corners: "mitred" (planes that meet) or "round" (a cone about each)',
    )


class NotchTable(Table):
    """What an L lacks of its rectangle."""

    corner: Corner = Field(description='the corner that is missing: "A", "B", "C" or "D" of the rectangle')
    size: Annotated[tuple[Side, Side], Field(strict=False)] = Field(
        description='length and width of what is missing, such as ["2 m", "1.5 m"]'
    )


class PadTable(Table):
    """The wanted level place."""

    building: Annotated[tuple[Side, Side], Field(strict=False)] | None = Field(
        default=None, description='length and width of the building, such as ["2.4 m", "3.6 m"]'
    )
    margin: Reach = Field(default=0.0, description='how far the pad reaches beyond the building on each side: "300 mm"')
    size: Annotated[tuple[Side, Side], Field(strict=False)] | None = Field(
        default=None, description='length and width of the pad itself, such as ["3 m", "4.2 m"]'
    )
    notch: NotchTable | None = Field(
        default=None, description='what an L lacks of its rectangle: { corner = "C", size = ["2 m", "1.5 m"] }'
    )
    corners: Corners | None = Field(
        default=None,
        description="the corners of any other shape in order, each [ahead, to the right]: [[0, 0], [4, 0], [2, 3]]",
    )
    diameter: Side | None = Field(default=None, description='the diameter of a round pad, such as "4 m"')
    file: Text | None = Field(
        default=None, description='a GeoJSON file that holds the outline, drawn where north is ahead: "pad.geojson"'
    )
    crs: Text | None = Field(
        default=None, description='the coordinate reference system of the file, over what it says; "site" for site axes'
    )
    strip: Strip = Field(default=0.0, description='the depth of turf and topsoil taken off first, such as "75 mm"')
    build_up: Annotated[tuple[LayerTable, ...], Field(strict=False)] = Field(
        default=(), description='the layers, lowest first: [{ material = "clean-stone-20", depth = "100 mm" }]'
    )
    edge: EdgeTable = Field(default_factory=EdgeTable, description='how it meets the ground: { kind = "timber" }')
    finish: FinishLevel = Field(
        default="free",
        description='the finish level: "free", "flush" (with the highest ground at the edge), "flush-lowest", a level, '
        'or { point = "DOOR", most-below = "150 mm" }',
    )
    position: Stands = Field(
        default="free",
        description='"free", the middle of the pad: [east, north], { corner = "A", at = "P1" }, or "drawn"',
    )
    bearing: Directions = Field(
        default="free",
        description='the direction of its length: "free", degrees clockwise from site north, '
        '{ parallel-to = ["H1", "H2"] }, or { from = 80, to = 110 }',
    )
    front: Text | None = Field(default=None, description='the side that is its front, by its letters: "BC"')
    faces: FacesTable | None = Field(
        default=None, description='which way its front looks: { towards = "GATE", within = "30 deg" }'
    )


def pad_of(table: PadTable, source: Source, drawn: FloatArray | None = None) -> Pad:
    """Return the pad in its own frame.

    Parameters
    ----------
    table : PadTable
        What the site file says of it.
    source : Source
        Where it stands.
    drawn : array, shape (n, 2), optional
        East and north of the corners of the outline that its file holds. [m]

    Raises
    ------
    InputError
        If the outline crosses itself or has no area, or the notch takes the whole rectangle.
    """
    edge = Edge(table.edge.kind, table.edge.beam or "")
    if table.edge.cut is not None and table.edge.fill is not None:
        edge = Edge(
            table.edge.kind, table.edge.beam or "", table.edge.cut, table.edge.fill, table.edge.corners or "mitred"
        )
    build_up = BuildUp(tuple(Layer(layer.material, layer.depth) for layer in table.build_up))
    rest: dict[str, Any] = {
        "build_up": build_up,
        "strip": table.strip,
        "edge": edge,
        "front": (table.front or "").strip().upper(),
    }
    if table.diameter is not None:
        return Pad(circle(table.diameter / 2), radius=table.diameter / 2, **rest)
    if table.corners is not None or drawn is not None:
        # What is drawn on a map is seen with north ahead and east to the right.
        given = table.corners if drawn is None else drawn[:, ::-1]
        return Pad(_outline(np.array(given, dtype=np.float64), source), **rest)
    length, width = table.size or table.building or (0.0, 0.0)
    margin = table.margin if table.building else 0.0
    length, width = length + 2 * margin, width + 2 * margin
    if table.notch is not None:
        if not (table.notch.size[0] < length and table.notch.size[1] < width):
            what = f"the notch of {table.notch.size[0]:g} by {table.notch.size[1]:g} m takes the whole length or width"
            rule = f"it leaves something of the rectangle of {length:g} by {width:g} m"
            raise InputError(Fault(what, rule, "Make the notch smaller", source))
        return Pad(l_shape(length, width, table.notch.corner, table.notch.size), **rest)
    return Pad.rectangle(length, width, building=table.building, **rest)


def _outline(corners: FloatArray, source: Source) -> FloatArray:
    """Return an outline as a pad has it; refuse one that is no simple polygon."""
    faults = list(ring_faults("the outline of the pad", corners, source))
    if faults:
        raise InputError(faults)
    return centred(corners)
