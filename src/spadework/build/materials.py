"""What to buy, line by line, counted off the frame, the layers and the fabric; with prices, what it costs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from spadework.build.cutting import CuttingList
from spadework.build.edge import EdgePlan
from spadework.build.fabric import FabricOrder
from spadework.build.hours import Hours
from spadework.build.options import BuildOptions
from spadework.build.stone import LayerOrder
from spadework.build.words import small
from spadework.earthwork import Banks
from spadework.factors import factor_row
from spadework.units import FOOT, LengthUnit, format_area, format_length, format_volume

__all__ = ["Material", "Money", "materials_for", "money_for"]

POUND = 0.45359237
SQUARE_YARD = 0.9144**2
TURF_WASTE = 0.05
"""Cut off at the ends of the rolls: common practice, no source."""
BITE = 0.025
"""Least length of a screw in the lower course, for it to be driven straight down. [m]"""


@dataclass(frozen=True, slots=True)
class Material:
    """One line of the shopping list.

    Parameters
    ----------
    key : str
        By which its price is given under ``[prices]``.
    what : str
        What to ask for.
    quantity : float
        How many. [`unit`]
    unit : str
        ``each``, ``roll``, ``m2``, ``yd2``, ``m3``, ``yd3`` or ``t``.
    detail : str
        What it is for, or how it is reckoned.
    price, cost : float, optional
        Of one, and of all; nothing where no price is given.
    """

    key: str
    what: str
    quantity: float
    unit: str
    detail: str
    price: float | None = None

    @property
    def cost(self) -> float | None:
        """Price of all of them; nothing where no price is given."""
        return None if self.price is None else self.price * self.quantity


@dataclass(frozen=True, slots=True)
class Money:
    """What it costs, as far as prices were given.

    Parameters
    ----------
    materials : float
        Sum of the lines that have a price.
    unpriced : tuple of str
        Keys of the lines that have none.
    labour : (float, float, float), optional
        Low, likely and high, where a wage is given.
    currency : str
        As the user writes it.
    """

    materials: float
    unpriced: tuple[str, ...]
    labour: tuple[float, float, float] | None
    currency: str


def materials_for(
    edge: EdgePlan | None,
    cutting: CuttingList | None,
    layers: Sequence[LayerOrder],
    fabric: FabricOrder | None,
    *,
    options: BuildOptions,
    unit: LengthUnit,
    banks: Banks | None = None,
) -> tuple[Material, ...]:
    """Return the shopping list.

    Parameters
    ----------
    edge : EdgePlan, optional
    cutting : CuttingList, optional
    layers : sequence of LayerOrder
    fabric : FabricOrder, optional
    options : BuildOptions
        Prices among them.
    unit : LengthUnit
        Unit of the words.
    banks : Banks, optional
        What is to be turfed.
    """
    lines = [
        *(_timber(cutting, unit) if cutting else ()),
        *(_steel(edge, options.prices, unit) if edge else ()),
        *(_stone(layer, options.prices, unit) for layer in layers),
        *(_fabric(fabric, options.prices, unit) if fabric else ()),
        *(_turf(banks, options.prices, unit) if banks else ()),
    ]
    return tuple(line for line in lines if line.quantity > 0)


def money_for(materials: Sequence[Material], hours: Hours, options: BuildOptions) -> Money | None:
    """Return the sums, or nothing where no price was given at all.

    Parameters
    ----------
    materials : sequence of Material
    hours : Hours
    options : BuildOptions
    """
    wage, total = hours.crew.wage, hours.total
    priced = [line.cost for line in materials if line.cost is not None]
    if not priced and wage is None:
        return None
    return Money(
        materials=math.fsum(priced),
        unpriced=tuple(line.key for line in materials if line.price is None),
        labour=None if wage is None else (total.low * wage, total.likely * wage, total.high * wage),
        currency=options.currency,
    )


def length_key(metres: float, unit: LengthUnit) -> str:
    """Return a length as it stands in a key: ``600`` (mm), ``24in``."""
    return f"{metres * 1000:.0f}" if unit is LengthUnit.METRE else f"{metres / FOOT * 12:.4g}in"


def _timber(cutting: CuttingList, unit: LengthUnit) -> Iterator[Material]:
    """Yield a line for each stock length; one with several prices has a line for each."""
    found: dict[tuple[float, float | None], int] = {}
    for timber in cutting.timbers:
        bought = (timber.stock.length, timber.stock.price)
        found[bought] = found.get(bought, 0) + 1
    for (length, price), count in found.items():
        yield Material(
            f"timber-{length_key(length, unit)}",
            f"timber {cutting.section}, {format_length(length, unit)}, treated for ground contact",
            count,
            "each",
            "cut as the cutting list says",
            price,
        )


def _steel(edge: EdgePlan, prices: Mapping[str, float], unit: LengthUnit) -> Iterator[Material]:
    """Yield bars by length, screws and lag screws."""
    row, options = factor_row("rebar", edge.options.bar), edge.options
    mass = row.value * (POUND / FOOT if row.unit == "lb/ft" else 1.0)
    for length, count in edge.bar_counts.items():
        key = f"bar-{length_key(length, unit)}"
        weight = mass * length * count
        yield Material(
            key,
            f"reinforcing bar {row.name.replace('no-', 'No. ').replace('-mm', ' mm')}, {small(length, unit)}",
            count,
            "each",
            f"driven through the frame; {weight:.1f} kg"
            if unit is LengthUnit.METRE
            else f"driven through the frame; {weight / POUND:.1f} lb",
            prices.get(key),
        )
    yield Material(
        "screw",
        f"exterior screw, {small(options.screw_length, unit)}",
        len(edge.screws),
        "each",
        "down through each course into the next"
        if options.screw_length >= edge.section.height + BITE
        else "each course to the next, at a slant from the inside face",
        prices.get("screw"),
    )
    yield Material(
        "lag",
        f"lag screw, {small(options.lag_length, unit)}",
        len(edge.lags),
        "each",
        "two at each corner of a course and at each joint",
        prices.get("lag"),
    )


def _stone(layer: LayerOrder, prices: Mapping[str, float], unit: LengthUnit) -> Material:
    """Return the line of one layer."""
    low, high = (format_volume(volume, unit) for volume in (layer.loose.low, layer.loose.high))
    mass = "" if layer.mass is None else f", {layer.mass:.1f} t"
    return Material(
        layer.material,
        layer.material,
        layer.order,
        layer.order_unit,
        f"{format_volume(layer.compacted, unit)} compacted; loose {format_volume(layer.loose.likely, unit)} "
        f"({low} to {high}){mass}",
        prices.get(layer.material),
    )


def _turf(banks: Banks, prices: Mapping[str, float], unit: LengthUnit) -> Iterator[Material]:
    """Yield the turf for the slopes, in whole square metres or square yards."""
    area = banks.cut_area + banks.fill_area
    size, sold = (1.0, "m2") if unit is LengthUnit.METRE else (SQUARE_YARD, "yd2")
    yield Material(
        "turf",
        "turf, or seed for as much",
        float(math.ceil(area * (1.0 + TURF_WASTE) / size - 1e-9)),
        sold,
        f"{format_area(area, unit)} of slope, {TURF_WASTE:.0%} more for what is cut off; pegged where it is steep",
        prices.get("turf"),
    )


def _fabric(fabric: FabricOrder, prices: Mapping[str, float], unit: LengthUnit) -> Iterator[Material]:
    """Yield the rolls and the staples."""
    way = "along" if fabric.along else "across"
    yield Material(
        "fabric",
        f"weed fabric, roll of {format_length(fabric.roll_width, unit)} x {format_length(fabric.roll_length, unit)}",
        fabric.rolls,
        "roll",
        f"{fabric.sheets} sheets of {format_length(fabric.sheet_length, unit)} {way} the pad, overlapped "
        f"{small(fabric.overlap, unit)}; {format_area(fabric.covered, unit)} to cover",
        prices.get("fabric"),
    )
    yield Material("staple", "fabric staple", fabric.staples, "each", "edges and overlaps", prices.get("staple"))
