"""The tables of a site file: which keys each takes, and what each key expects.

The description of a key is what the author of a site file is told when its value is refused.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field

from spadework.site_build import CrewTable, FrameTable, MaterialsTable, Prices
from spadework.site_goal import Least, SoilPrices
from spadework.site_ground import Boundaries, BoundaryTable, BreaklineTable, GroundTable, HoleTable, KeepOutTable
from spadework.site_pad import EdgeTable, LayerTable, PadTable
from spadework.site_positions import (
    FITS,
    BaselineTable,
    Codes,
    GridTable,
    KnownPlaces,
    PegTestOf,
    PositionsTable,
    Strings,
    TapeTable,
    Zeros,
)
from spadework.site_table import Table
from spadework.site_values import (
    Direction,
    Flag,
    Length,
    Names,
    Place,
    Position,
    Slope,
    Text,
    Unit,
    Volume,
    between,
    fraction,
    word,
)
from spadework.site_where import ReachTable

__all__ = [
    "INSTRUMENTS",
    "KINDS",
    "BoundaryTable",
    "BreaklineTable",
    "DatumTable",
    "EdgeTable",
    "GoalTable",
    "GroundTable",
    "HoleTable",
    "KeepOutTable",
    "LayerTable",
    "LevelsTable",
    "LimitsTable",
    "PadTable",
    "PositionsTable",
    "ReadingsTable",
    "SheetTable",
    "SiteFile",
    "SiteTable",
    "SoilTable",
    "StakesTable",
    "Table",
]

Kind = Literal[
    "level-book",
    "level-net",
    "rod-list",
    "drop-grid",
    "points",
    "string-line",
    "slope-walk",
    "radial",
    "ties",
    "track",
    "landxml",
    "cloud",
    "raster",
]
KINDS: tuple[str, ...] = get_args(Kind)
INSTRUMENTS = (
    "rotary-laser",
    "builders-level",
    "string-line",
    "water-level",
    "hand-level",
    "digital-level",
    "clinometer",
    "a-frame",
    "h-frame",
    "sighting-water-level",
    "tape",
    "total-station",
    "transit",
    "gnss-rtk",
    "lidar",
    "lidar-ql0",
    "lidar-ql3",
    "global-elevation-model",
    "phone",
)

DepthLimit = Annotated[float, between(0.0, 100.0, "a depth or height from 0 to 100 m")]


BenchSd = Annotated[float, between(1e-5, 1.0, "a standard deviation from 0.01 mm to 1 m")]


class DatumTable(Table):
    """The point whose level is known or assumed."""

    point: Text = Field(description='the name of the bench mark as the readings write it, such as "BM1"')
    level: Length = Field(description='the level of that point, such as 100.0 or "100 m"')
    sd: BenchSd | None = Field(
        default=None, description='how sure that level is, such as "3 mm": least squares does not hold it then'
    )


class BenchMarkTable(Table):
    """One more point whose level is known."""

    level: Length = Field(description='its level, such as 100.0 or "100 m"')
    sd: BenchSd | None = Field(
        default=None, description='how sure that level is, such as "3 mm": least squares does not hold it then'
    )


def _level_alone(value: Any) -> Any:
    """Read a level alone as a table that holds it."""
    return value if isinstance(value, dict) else {"level": value}


class SiteTable(Table):
    """What holds for the whole site."""

    name: Text | None = Field(default=None, description="a name, printed on every sheet")
    units: Unit = Field(
        description='the unit of plain numbers: "m", "ft" (decimal feet) or "ft-in" (feet, inches and fractions)',
    )
    datum: DatumTable | None = Field(default=None, description='a table such as { point = "BM1", level = 100.0 }')
    crs: Text | None = Field(default=None, description='a coordinate reference system, such as "EPSG:27700"')


class ReadingsTable(Table):
    """One file of readings, and what the file itself does not say."""

    file: Text = Field(description='the file, such as "shots.csv"; "-" reads standard input')
    kind: Annotated[Kind, word(*KINDS)] | None = Field(
        default=None, description=f"the way of measuring: {', '.join(KINDS)}; leave it out to have it recognised"
    )
    units: Unit | None = Field(
        default=None, description='the unit of this file, where it is not that of the site: "m", "ft" or "ft-in"'
    )
    instrument: Annotated[str, word(*INSTRUMENTS)] | None = Field(
        default=None, description=f"what it was measured with: {', '.join(INSTRUMENTS)}"
    )
    sd: Annotated[float, between(1e-5, 10.0, "a standard deviation from 0.01 mm to 10 m")] | None = Field(
        default=None, description='how sure one reading is (its standard deviation), such as "3 mm"'
    )
    noise: Annotated[float, between(1e-5, 10.0, "a standard deviation from 0.01 mm to 10 m")] | None = Field(
        default=None, description="for a raster: the part of its sd that is different in each cell"
    )
    order: Text | None = Field(
        default=None, description='the order of the columns of a list of points, such as "PNEZD"'
    )
    line_level: Length | None = Field(default=None, description="the level of the line that drops were measured from")
    origin: Position | None = Field(
        default=None, description="where the grid's corner lies in site axes: [east, north]"
    )
    bearing: Direction | None = Field(
        default=None,
        description="the direction of the grid's rows of growing distance along, in degrees from site north",
    )
    rod_length: Annotated[float, between(0.3, 12.0, "a rod from 0.3 to 12 m")] | None = Field(
        default=None, description='the length of the rod, such as "5 m": longer readings are faults'
    )
    vertical_unit: Annotated[str, word("m", "ft", "us-ft")] | None = Field(
        default=None, description='the unit of a raster\'s heights, where the file does not say: "m", "ft" or "us-ft"'
    )
    band: Annotated[int, Field(ge=1)] | None = Field(
        default=None, description="the band of a raster that holds the heights, counted from 1"
    )
    nodata: float | int | None = Field(
        default=None, description="a number in a raster that stands for no value, where the file does not say: -9999"
    )
    places: KnownPlaces = Field(
        default_factory=dict,
        description="points that are known: { A = [0, 0], B = [8.4, 0] }, with a level as third number where it counts",
    )
    baseline: BaselineTable | None = Field(
        default=None, description='the line that stations count along: { from = "H1", to = "H2" }'
    )
    grid: GridTable | None = Field(
        default=None, description='the grid that points such as B-3 are called after: { spacing = "2 m" }'
    )
    strings: Strings = Field(
        default_factory=dict, description='where strings run: { A = { from = [0, 0], to = [10, 0], level = "100 m" } }'
    )
    zero: Zeros = Field(
        default_factory=dict, description="bearing of the zero of the circle at each station: { S1 = 45 }"
    )
    stadia: Annotated[float, Field(ge=20, le=500, strict=False)] = Field(
        default=100.0, description="distance for each unit of rod between the stadia wires, nearly always 100"
    )
    peg_test: PegTestOf | None = Field(
        default=None,
        description='the two-peg test of its instrument: { a1 = "1.432 m", b1 = "1.218 m", a2 = "1.503 m", '
        'b2 = "1.301 m", apart = "60 m" }, or the name of a file of its readings',
    )
    curvature: Flag = Field(
        default=False, description="true takes the curve of the earth off readings whose lengths of sight are known"
    )
    side: Annotated[Literal["left", "right"], word("left", "right")] | None = Field(
        default=None, description='the side of the line on which tied points lie: "left" or "right"'
    )
    tape: TapeTable | None = Field(
        default=None, description='the tape, to correct distances: { length = "30 m", true-length = "30.006 m" }'
    )
    fit: Annotated[Literal["shift", "turn", "turn-scale"], word(*FITS)] | None = Field(
        default=None,
        description='for a file with axes of its own, fitted to the others by common points: "shift", "turn" or '
        '"turn-scale"',
    )
    fit_levels: Flag = Field(
        default=False,
        description="true shifts the levels of a file on a datum of its own, by the points levelled in other files too",
    )
    take_heights: Flag = Field(default=False, description="true takes the heights of a track, which are good to metres")
    spacing: Annotated[float, between(0.02, 100.0, "a spacing from 20 mm to 100 m")] | None = Field(
        default=None, description='the side of the cells to which a cloud is thinned, such as "500 mm"'
    )
    accept: Names = Field(default=(), description='shots taken as they are although far off their neighbours: ["P17"]')


class LevelsTable(Table):
    """How the levels are closed."""

    tolerance: Text | None = Field(
        default=None,
        description='the misclosure allowed: the name of a rule, or "12 mm*sqrt(km)", "0.02 ft*sqrt(n)", "5 mm"',
    )
    adjust: Annotated[
        Literal["set-ups", "distance", "least-squares", "none"], word("set-ups", "distance", "least-squares", "none")
    ] = Field(
        default="set-ups",
        description='how the misclosure is shared out: "set-ups", "distance", "least-squares" or "none"',
    )
    weights: Annotated[Literal["set-ups", "distance"], word("set-ups", "distance")] = Field(
        default="set-ups", description='what the weights of least squares go by: "set-ups" or "distance"'
    )
    bench_marks: dict[Text, Annotated[BenchMarkTable, BeforeValidator(_level_alone)]] = Field(
        default_factory=dict,
        description='more points of known level: { BM2 = 101.2, BM3 = { level = "99.870 m", sd = "4 mm" } }',
    )
    allow_misclosure: Flag = Field(
        default=False, description="true carries on with a misclosure over the tolerance, and says so on every sheet"
    )


class LimitsTable(Table):
    """What the plan may not exceed."""

    exposed_edge: DepthLimit | None = Field(default=None, description='the greatest height of edge showing: "600 mm"')
    cut_depth: DepthLimit | None = Field(default=None, description='the deepest dig after the strip: "400 mm"')
    fill_depth: DepthLimit | None = Field(default=None, description='the deepest fill: "300 mm"')
    ground_slope: Slope | None = Field(
        default=None, description='the steepest ground under it, as a mean: "15 %", "1 in 8"'
    )
    carted: Volume | None = Field(default=None, description='the most soil left over, in the ground: "0.5 m3"')
    bought: Volume | None = Field(default=None, description='the most fill bought in, measured compacted: "1 m3"')


class GoalTable(Table):
    """What is made least."""

    least: Least = Field(
        default="digging",
        description='"digging" (least soil dug, none bought), "balance" (as much out as in), "cost", "hours", "wall" '
        "(lowest edge), or a mix such as { digging = 1, wall = 0.5 }",
    )
    prices: SoilPrices = Field(
        default_factory=dict, description='prices of the digging: { dig = 30, fill = 25, cart-away = "45 per m3" }'
    )
    limits: LimitsTable = Field(default_factory=LimitsTable, description='limits such as { exposed-edge = "600 mm" }')
    rank: Annotated[Literal["drawn", "expected"], word("drawn", "expected")] = Field(
        default="drawn",
        description='which spot is taken: "drawn" (the best of the drawn surface) or "expected" (least expected cost)',
    )


class SoilTable(Table):
    """How the soil changes its volume."""

    kind: Text | None = Field(default=None, description='the kind of soil, such as "loam"')
    swell: Annotated[float, fraction("swell", 0.0, 2.0, 'as 0.25 or "25 %"')] | None = Field(
        default=None, description='how much the soil swells when dug: 0.25 or "25 %"'
    )
    shrink: Annotated[float, fraction("shrink", -0.6, 0.9, 'as 0.1 or "10 %"')] | None = Field(
        default=None, description='how much the soil shrinks, from the ground to rammed in place: 0.10 or "10 %"'
    )
    barrow: Volume | None = Field(default=None, description='what one barrow holds, loose, such as "85 L" or "3 ft3"')
    uphill: Annotated[float, Field(strict=False, ge=0.0, le=100.0)] | None = Field(
        default=None, description="how many metres of level way one metre of rise counts for: 10"
    )


class StakesTable(Table):
    """How the stakes are set out."""

    references: Annotated[tuple[Place, Place], Field(strict=False)] | None = Field(
        default=None, description='two fixed points to tape from: ["H1", "H2"], or [[0, 0], [5, 0]]'
    )
    offset: Annotated[float, between(0.0, 50.0, "an offset from 0 to 50 m")] = Field(
        default=0.0, description='how far outside the pad the offset stakes stand, such as "600 mm"'
    )
    grid: Annotated[float, between(0.05, 100.0, "a spacing from 50 mm to 100 m")] | None = Field(
        default=None, description='the spacing of the depth grid, such as "1 m"'
    )
    tape: Annotated[float, between(1.0, 200.0, "a tape from 1 to 200 m")] | None = Field(
        default=None, description='the length of your tape, such as "8 m"'
    )
    tape_sd: Annotated[float, between(0.0005, 0.5, "a standard deviation from 0.5 mm to 0.5 m")] | None = Field(
        default=None, description='how far off one taped distance is, as a standard deviation: "5 mm"'
    )
    side_spacing: Annotated[float, between(0.05, 100.0, "a spacing from 50 mm to 100 m")] | None = Field(
        default=None, description='the distance between the stakes along each side, such as "2 m"'
    )


class SheetTable(Table):
    """How the sheets are printed."""

    paper: Annotated[Literal["A4", "Letter"], word("A4", "Letter")] = Field(
        default="A4", description='the paper of field-sheet.pdf: "A4" or "Letter"'
    )


class SiteFile(Table):
    """The whole file."""

    site: SiteTable = Field(description="the table [site] with at least units")
    readings: Annotated[tuple[ReadingsTable, ...], Field(strict=False)] = Field(
        default=(), description="one table [[readings]] for each file of readings"
    )
    levels: LevelsTable = Field(default_factory=LevelsTable, description="a table [levels]")
    positions: PositionsTable = Field(default_factory=PositionsTable, description="a table [positions]")
    boundary: Boundaries | None = Field(
        default=None, description="a table [boundary], or one table [[boundary]] for each piece of land"
    )
    reach: Annotated[tuple[ReachTable, ...], Field(strict=False)] = Field(
        default=(), description="one table [[reach]] for each point that the pad must not lie too far from"
    )
    keep_out: Annotated[tuple[KeepOutTable, ...], Field(strict=False)] = Field(
        default=(), description="one table [[keep-out]] for each place to keep clear of"
    )
    pad: PadTable | None = Field(default=None, description="a table [pad]")
    ground: GroundTable = Field(default_factory=GroundTable, description="a table [ground]")
    breakline: Annotated[tuple[BreaklineTable, ...], Field(strict=False)] = Field(
        default=(), description="one table [[breakline]] for each line along which the ground bends"
    )
    hole: Annotated[tuple[HoleTable, ...], Field(strict=False)] = Field(
        default=(), description="one table [[hole]] for each place without ground: a pond, a house"
    )
    goal: GoalTable = Field(default_factory=GoalTable, description="a table [goal]")
    features: Codes | None = Field(
        default=None, description="a table [features]: codes in the notes, and what they make of their points"
    )
    soil: SoilTable = Field(default_factory=SoilTable, description="a table [soil]")
    stakes: StakesTable = Field(default_factory=StakesTable, description="a table [stakes]")
    sheet: SheetTable = Field(default_factory=SheetTable, description="a table [sheet]")
    frame: FrameTable = Field(default_factory=FrameTable, description="a table [frame]")
    materials: MaterialsTable = Field(default_factory=MaterialsTable, description="a table [materials]")
    prices: Prices = Field(default_factory=dict, description="a table [prices]: a number for each thing bought")
    crew: CrewTable = Field(default_factory=CrewTable, description="a table [crew]")
