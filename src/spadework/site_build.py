"""The tables of a site file about what is built: frame, materials, prices, crew."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo

from spadework.build.lumber import StockLength, common_stock, section_named
from spadework.build.options import BuildOptions, Crew, EdgeOptions, FabricOptions, Machine, StoneOptions, fixing
from spadework.errors import InputError, UnitError
from spadework.factors import factor_row, load_table
from spadework.site_table import Table
from spadework.site_values import Flag, Text, Volume, between, nearest, refuse, shown, word
from spadework.units import LengthUnit, parse_area, parse_length, parse_volume

__all__ = ["Beam", "CrewTable", "FrameTable", "MachineTable", "MaterialsTable", "Prices", "StockTable", "build_options"]

NORM_DAY = 8.0
_RATE = re.compile(r"(?P<amount>.*?)\s*(?:/|per|an|a)\s*(?P<per>h|hour|hours|d|day|days)\s*", re.IGNORECASE)
_SOLD = re.compile(r"(?P<amount>\d+(?:\.\d+)?)\s*t(?:onnes?|ons?)?\s*", re.IGNORECASE)

Timber = Annotated[float, between(0.3, 30.0, "a timber from 300 mm to 30 m long", "check the unit: is it m or ft?")]
Small = Annotated[float, between(0.0, 2.0, "from 0 to 2 m", "check the unit: is it mm, m, ft or in?")]
Spacing = Annotated[
    float, between(0.05, 10.0, "a spacing from 50 mm to 10 m", "check the unit: is it mm, m, ft or in?")
]
Bar = Annotated[float, between(0.1, 6.0, "a bar from 100 mm to 6 m", "check the unit: is it mm, m, ft or in?")]
Kerf = Annotated[float, between(0.0, 0.02, "a saw cut from 0 to 20 mm", "check the unit: is it mm or in?")]
Roll = Annotated[float, between(0.2, 500.0, "from 200 mm to 500 m", "check the unit: is it m or ft?")]
Reach = Annotated[float, between(0.0, 1000.0, "a distance from 0 to 1 km")]


def _amount(value: Any, low: float, high: float, what: str) -> float:
    """Return a plain number between two bounds."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise refuse("is not a number", f"{what} is a plain number", "take the quotes and the unit away")
    if not low <= value <= high:
        raise refuse("is too small" if value < low else "is too big", f"{what} lies from {low:g} to {high:g}")
    return float(value)


def _reader(low: float, high: float, what: str) -> BeforeValidator:
    """Return a reader of plain numbers between two bounds."""
    return BeforeValidator(lambda value: _amount(value, low, high, what))


def _rows(table: str, noun: str) -> BeforeValidator:
    """Return a reader of the name of a row of a table of factors."""

    def read(value: Any) -> str:
        if isinstance(value, str):
            try:
                return factor_row(table, value).name
            except InputError:
                pass
        names = [row.name for row in load_table(table)]
        remedy = nearest(value, names) if isinstance(value, str) else ""
        raise refuse("is not known here", f"{noun} is one of {', '.join(names)}", remedy)

    return BeforeValidator(read)


def _rates(value: Any) -> dict[str, float]:
    """Read rates of one's own: a number in the unit of the table's row, or text with its unit."""
    if not isinstance(value, dict):
        raise refuse("is not a table", 'rates are written { dig-loam = "0.9 m3/h" }')
    rows = {row.name: row for row in load_table("rates")}
    rates: dict[str, float] = {}
    for name, given in value.items():
        if name not in rows:
            raise refuse(f"has {shown(name)}, which is no task", f"tasks are {', '.join(rows)}", nearest(name, [*rows]))
        unit, per = rows[name].unit.split("/")
        rate = _rate(given, unit, per) if isinstance(given, str) else given
        rates[name] = _amount(rate, 1e-4, 1e5, f"{name}, in {rows[name].unit},")
    return rates


_PARSERS: dict[str, Callable[[str], float]] = {
    "m3": parse_volume,
    "m2": parse_area,
    "m": parse_length,
    "1": float,
}


def _rate(text: str, unit: str, per: str) -> float:
    """Return a rate written with its unit, in the unit of its row."""
    found = _RATE.fullmatch(text.strip())
    example = {"m3": "0.9 m3/h", "m2": "40 m2/h", "m": "2 m/h", "1": "10 /h"}[unit]
    if found is None:
        raise refuse(f"has {shown(text)}, which is no rate", f'such as "{example}"')
    try:
        amount = _PARSERS[unit](found["amount"].strip())
    except (UnitError, ValueError):
        raise refuse(f"has {shown(text)}, which is no rate of this task", f'such as "{example}"') from None
    hours = NORM_DAY if found["per"].lower().startswith("d") else 1.0
    return amount / hours * (NORM_DAY if per == "day" else 1.0)


def _sold_by(value: Any, info: ValidationInfo) -> dict[str, tuple[float, str]]:
    """Read the steps that materials are sold in: a volume, or tonnes."""
    if not isinstance(value, dict):
        raise refuse("is not a table", 'write { clean-stone-20 = "0.5 m3" }, or "1 t"')
    metric = (info.context or {}).get("units") in {LengthUnit.METRE, None}
    steps: dict[str, tuple[float, str]] = {}
    for name, given in value.items():
        tonnes = _SOLD.fullmatch(given) if isinstance(given, str) else None
        if tonnes is not None:
            steps[name] = (_amount(float(tonnes["amount"]), 0.001, 100.0, "a step in tonnes"), "t")
            continue
        try:
            volume = parse_volume(given) if isinstance(given, str) else 0.0
        except UnitError:
            volume = 0.0
        if volume <= 0:
            raise refuse(f"has {shown(given)}, which is no step to sell by", 'such as "0.5 m3", "1 yd3" or "1 t"')
        steps[name] = (volume, "m3") if metric else (volume / 0.9144**3, "yd3")
    return steps


def _beam(value: str, info: ValidationInfo) -> str:
    """Refuse a section of timber that is none, or whose real size is not known."""
    try:
        section_named(value, (info.context or {}).get("units") or LengthUnit.METRE)
    except InputError as error:
        fault = error.faults[0]
        raise refuse("is no section of timber that is known", fault.rule, fault.remedy) from None
    return value


def _some(value: tuple[Any, ...] | None) -> tuple[Any, ...] | None:
    """Refuse a list with nothing in it."""
    if value == ():
        raise refuse("is empty", "it holds at least one", "leave it out for what is common")
    return value


Price = Annotated[float, _reader(0.0, 1e7, "a price")]
Beam = Annotated[Text, AfterValidator(_beam)]
Prices = dict[str, Price]


class FrameTable(Table):
    """How the timber edge is made."""

    lay: Annotated[Literal["on-edge", "flat"], word("on-edge", "flat")] = Field(
        default="on-edge", description='how timbers lie: "on-edge" (the narrow face up) or "flat"'
    )
    embedment: Small | None = Field(
        default=None, description='how deep the foot of the frame stands in the ground at least, such as "100 mm"'
    )
    lap: Annotated[float, between(0.02, 1.0, "a lap from 20 mm to 1 m")] | None = Field(
        default=None, description='the length that each lap joint uses up, such as "150 mm"'
    )
    stagger: Small | None = Field(
        default=None, description='how far the joints of neighbouring courses stand apart, such as "600 mm"'
    )
    least_piece: Annotated[float, between(0.1, 3.0, "a piece from 100 mm to 3 m")] | None = Field(
        default=None, description='the shortest piece worth laying, such as "600 mm"'
    )
    bar: Annotated[str, _rows("rebar", "a bar")] | None = Field(
        default=None, description='the bars: "12-mm", "no-4" (1/2 in), ...'
    )
    bar_lengths: Annotated[tuple[Bar, ...], Field(strict=False), AfterValidator(_some)] | None = Field(
        default=None, description='the lengths of bar that can be had: ["600 mm", "1.2 m"]'
    )
    bar_spacing: Spacing | None = Field(default=None, description='how far apart bars stand at most, such as "1.2 m"')
    bar_anchor: Small | None = Field(
        default=None, description='how deep a bar stands below the frame at least, such as "300 mm"'
    )
    screw_length: Small | None = Field(
        default=None, description='the length of the screws between courses, such as "100 mm"'
    )
    screw_spacing: Spacing | None = Field(
        default=None, description='how far apart the screws of a course stand, such as "600 mm"'
    )
    lag_length: Small | None = Field(
        default=None, description='the length of the lag screws at corners and joints, such as "150 mm"'
    )
    trench_room: Small | None = Field(default=None, description='the width dug beside the timber, such as "100 mm"')


class StockTable(Table):
    """A length of timber that can be bought."""

    length: Timber = Field(description='the length, such as "3.6 m"')
    price: Price | None = Field(default=None, description="the price of one, a plain number such as 18.50")
    available: Annotated[int, Field(ge=0, le=10_000)] | None = Field(
        default=None, description="how many there are, a whole number"
    )


class MaterialsTable(Table):
    """What can be bought, and what it is used with."""

    stock: Annotated[tuple[StockTable, ...], Field(strict=False), AfterValidator(_some)] | None = Field(
        default=None, description='the lengths of timber to be had: [{ length = "3.6 m", price = 18.50 }]'
    )
    kerf: Kerf | None = Field(default=None, description='the width of a saw cut, such as "3 mm"')
    trim: Small = Field(default=0.0, description='the length cut off each timber to square its end, such as "10 mm"')
    compactor: Annotated[str, _rows("lifts", "a compactor")] = Field(
        default="plate-light", description='what compacts the stone: "plate-light", "hand-tamper", ...'
    )
    ordered: dict[Text, Volume] = Field(
        default_factory=dict, description='what is ordered already, loose: { clean-stone-20 = "1.5 m3" }'
    )
    sold_by: Annotated[dict[str, tuple[float, str]], BeforeValidator(_sold_by)] = Field(
        default_factory=dict, description='the steps that a material is sold in: { clean-stone-20 = "0.5 m3" } or "1 t"'
    )
    fabric: Flag = Field(default=True, description="whether fabric is laid under the stone: true or false")
    roll: Annotated[tuple[Roll, Roll], Field(strict=False)] | None = Field(
        default=None, description='width and length of a roll of fabric: ["2 m", "25 m"]'
    )
    overlap: Small | None = Field(default=None, description='how far sheets of fabric overlap, such as "375 mm"')
    currency: Text | None = Field(default=None, description='what prices are in, such as "EUR"')


class MachineTable(Table):
    """A hired machine to compare hand tools with."""

    name: Text = Field(description='what it is, such as "1.5 t digger"')
    dig: Volume = Field(description='how much it digs in an hour, in the ground: "3 m3"')
    hire: Price | None = Field(default=None, description="the price of a day, a plain number")


class CrewTable(Table):
    """Who does it, and how fast."""

    people: Annotated[int, Field(ge=1, le=100)] = Field(default=1, description="how many work, from 1 to 100")
    hours_per_day: Annotated[float, _reader(0.5, 24.0, "a day's work in hours")] = Field(
        default=8.0, description="hours of work a day, a plain number"
    )
    wage: Price | None = Field(default=None, description="the price of an hour's work, a plain number")
    haul: Reach | None = Field(default=None, description='how far soil and stone are barrowed, such as "15 m"')
    rates: Annotated[dict[str, float], BeforeValidator(_rates)] = Field(
        default_factory=dict, description='rates of your own: { dig-loam = "0.9 m3/h" }'
    )
    machine: MachineTable | None = Field(
        default=None, description='a machine to compare with: { name = "digger", dig = "3 m3", hire = 160 }'
    )


def build_options(
    frame: FrameTable, materials: MaterialsTable, prices: dict[str, float], crew: CrewTable, unit: LengthUnit
) -> BuildOptions:
    """Return what may be chosen about what is built, common practice where the site file chooses nothing.

    Parameters
    ----------
    frame : FrameTable
    materials : MaterialsTable
    prices : dict of str to float
    crew : CrewTable
    unit : LengthUnit
        Unit of the site: which common practice.
    """
    chosen = frame.model_dump(exclude={"lay"})
    lengths = chosen.pop("bar_lengths")
    stock = (
        common_stock(unit)
        if materials.stock is None
        else tuple(StockLength(one.length, one.price, one.available) for one in materials.stock)
    )
    width, length = materials.roll or (None, None)
    machine = crew.machine
    return BuildOptions(
        edge=EdgeOptions.usual(
            unit, **chosen, flat=frame.lay == "flat", bar_lengths=None if lengths is None else tuple(lengths)
        ),
        stock=stock,
        kerf=fixing("kerf", unit) if materials.kerf is None else materials.kerf,
        trim=materials.trim,
        stone=StoneOptions(materials.compactor, dict(materials.ordered), dict(materials.sold_by)),
        fabric=FabricOptions.usual(
            unit, wanted=materials.fabric, roll_width=width, roll_length=length, overlap=materials.overlap
        ),
        crew=Crew(
            people=crew.people,
            hours_per_day=crew.hours_per_day,
            rates=dict(crew.rates),
            wage=crew.wage,
            haul_distance=crew.haul,
            machine=None if machine is None else Machine(machine.name, machine.dig, machine.hire),
        ),
        prices=dict(prices),
        currency=materials.currency or "",
    )
