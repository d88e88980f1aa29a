"""Loose materials: what each layer takes inside the edge, what to order for it, and in how many lifts it goes down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spadework.build.corners import corner_angles, taken_off
from spadework.build.edge import EdgePlan
from spadework.build.options import StoneOptions
from spadework.build.words import small
from spadework.earthwork import Range
from spadework.errors import InputError
from spadework.factors import FactorRow, density, factor_row
from spadework.pad import Pad
from spadework.units import FOOT, LengthUnit, format_volume

__all__ = ["LayerOrder", "inside_area", "layer_orders", "lift_depth", "lifts_for", "ordered_depth"]

CUBIC_YARD = 0.9144**3
DEFAULT_FACTOR = "clean-stone"
MEASURED_IN_PLACE = {"rolled-gravel", "compacted-sand-silt-clay", "sand-and-gravel-dry-packed"}
"""Densities of what is rammed already: they go with the compacted volume, the others with the loose one."""


@dataclass(frozen=True, slots=True)
class LayerOrder:
    """One layer of the build-up, and what to order for it.

    Parameters
    ----------
    material : str
        As the site file calls it.
    depth : float
        Compacted depth. [m]
    area : float
        Inside the edge. [m²]
    compacted : float
        Volume in place: the area times the depth, and what lies under the frame where that stands above the layer's
        foot. [m³]
    factor : Range
        Loose volume for one compacted. [m³/m³]
    waste : float
        Ordered for one laid. [m³/m³]
    loose : Range
        Volume to order: compacted times factor times waste. [m³]
    mass : float, optional
        Of the likely order. [t]
    order : float
        The likely order rounded up to what is sold. [`order_unit`]
    order_unit : str
        ``m3``, ``yd3`` or ``t``.
    lifts : int
        Layers to compact it in.
    source : str
        Where the factor comes from.
    """

    material: str
    depth: float
    area: float
    compacted: float
    factor: Range
    waste: float
    loose: Range
    mass: float | None
    order: float
    order_unit: str
    lifts: int
    source: str


def lift_depth(compactor: str) -> float:
    """Return the deepest loose layer that a compactor takes at once. [m]"""
    row = factor_row("lifts", compactor)
    return row.value * (FOOT / 12 if row.unit == "in" else 0.001)


def lifts_for(depth: float, factor: float, compactor: str) -> int:
    """Return the number of lifts for a compacted depth: ``⌈depth factor / lift⌉``, one at least.

    Parameters
    ----------
    depth : float
        Compacted. [m]
    factor : float
        Loose for one compacted.
    compactor : str
        Row of ``factors/lifts.toml``.
    """
    return max(1, math.ceil(depth * factor / lift_depth(compactor) - 1e-9))


def inside_area(pad: Pad, edge: EdgePlan | None) -> float:
    """Return the area that stone covers: inside the timber of a frame, or the whole pad. [m²]

    Inside a strip of breadth ``b`` along an outline of area ``A``, perimeter ``P`` and angles ``a_i`` there are
    ``A - b P + b² Σ cot(a_i / 2)``, as long as no side is shorter than its strip.

    Parameters
    ----------
    pad : Pad
    edge : EdgePlan, optional
    """
    if edge is None:
        return pad.area
    breadth = edge.section.breadth
    if pad.is_rectangle:
        inside = [max(float(side) - 2 * breadth, 0.0) for side in pad.sides[:2]]
        return inside[0] * inside[1]
    corners = math.fsum(taken_off(angle, breadth) for angle in corner_angles(pad.outline).tolist())
    return pad.area - breadth * float(pad.sides.sum()) + breadth * corners


def under_frame(edge: EdgePlan, low: float, high: float) -> float:
    """Return the volume between two levels that lies in the line of the frame, but below its foot. [m³]"""
    breadth, total = edge.section.breadth, 0.0
    for side in edge.sides:
        stop = side.length - side.corner(breadth)
        at = np.unique(np.append(np.minimum(side.stations(), stop), stop))
        foot = side.underside((at[:-1] + at[1:]) / 2)
        total += breadth * float((np.diff(at) * np.clip(np.minimum(foot, high) - low, 0.0, None)).sum())
    return total


def layer_orders(
    pad: Pad, formation: float, edge: EdgePlan | None, options: StoneOptions, unit: LengthUnit
) -> tuple[tuple[LayerOrder, ...], tuple[str, ...]]:
    """Return what to order for each layer, the lowest first, and what should be said of it.

    Parameters
    ----------
    pad : Pad
        Its build-up and outline.
    formation : float
        Level under the lowest layer. [m]
    edge : EdgePlan, optional
        The frame that holds it.
    options : StoneOptions
    unit : LengthUnit
        Unit of the notices, and of orders where nothing is said of what is sold.
    """
    orders: list[LayerOrder] = []
    notices: list[str] = []
    area, foot = inside_area(pad, edge), formation
    for layer in pad.build_up.layers:
        row, known = _factor(layer.material)
        if not known:
            notices.append(
                f"No figure is known for how {layer.material} settles: ordered as clean stone, {row.value:g} loose for "
                "1 compacted. Ask the supplier."
            )
        compacted = area * layer.depth + (under_frame(edge, foot, foot + layer.depth) if edge else 0.0)
        waste = factor_row("stone", "waste")
        loose = Range(
            compacted * row.low * waste.low, compacted * row.value * waste.value, compacted * row.high * waste.high
        )
        mass = _mass(layer.material, compacted * waste.value, loose.likely)
        order, order_unit = _sold(layer.material, loose.likely, mass, options, unit)
        orders.append(
            LayerOrder(
                material=layer.material,
                depth=layer.depth,
                area=area,
                compacted=compacted,
                factor=Range(row.low, row.value, row.high),
                waste=waste.value,
                loose=loose,
                mass=mass,
                order=order,
                order_unit=order_unit,
                lifts=lifts_for(layer.depth, row.value, options.compactor),
                source=f"{row.source}: {row.where}",
            )
        )
        foot += layer.depth
    for material, volume in options.ordered.items():
        notices.extend(_check_order(material, volume, orders, unit))
    return tuple(orders), tuple(notices)


def ordered_depth(volume: float, area: float, factor: float = 1.0) -> float:
    """Return how deep a volume lies over an area: as tipped, or compacted with a factor of loose per compacted. [m]"""
    return volume / area / factor


def _check_order(material: str, volume: float, orders: Sequence[LayerOrder], unit: LengthUnit) -> list[str]:
    """Return what to say of a quantity that somebody has ordered already."""
    found = [order for order in orders if order.material == material]
    if not found:
        return [f"{format_volume(volume, unit)} of {material} is ordered, and no layer of the build-up is of that."]
    area, wanted = found[0].area, math.fsum(order.depth for order in found)
    tipped = ordered_depth(volume, area)
    rammed = ordered_depth(volume, area, found[0].factor.likely)
    said = (
        f"{format_volume(volume, unit)} of {material} over this area is {small(tipped, unit)} as tipped and about "
        f"{small(rammed, unit)} once compacted"
    )
    if rammed < wanted * 0.98:
        return [f"{said}, not {small(wanted, unit)}: {_missing(volume, found, unit)} more is wanted."]
    if rammed > wanted * 1.15:
        return [f"{said}, where {small(wanted, unit)} is wanted: that is too much."]
    return [f"{said}: enough for {small(wanted, unit)}."]


def _missing(volume: float, orders: Sequence[LayerOrder], unit: LengthUnit) -> str:
    """Return how much more is wanted, in words."""
    return format_volume(max(math.fsum(order.loose.likely for order in orders) - volume, 0.0), unit)


def _factor(material: str) -> tuple[FactorRow, bool]:
    """Return the row for a material, and whether the table knows it."""
    try:
        return factor_row("stone", material), True
    except InputError:
        return factor_row("stone", DEFAULT_FACTOR), False


def _mass(material: str, laid: float, loose: float) -> float | None:
    """Return the mass of an order. [t]"""
    try:
        row = factor_row("densities", material)
    except InputError:
        return None
    return (laid if row.name in MEASURED_IN_PLACE else loose) * density(material) / 1000


def _sold(
    material: str, loose: float, mass: float | None, options: StoneOptions, unit: LengthUnit
) -> tuple[float, str]:
    """Return an order rounded up to what is sold, and its unit."""
    usual = "m3" if unit is LengthUnit.METRE else "yd3"
    step, sold_by = options.sold_by.get(material, (factor_row("stone", f"sold-by-{usual}").value, usual))
    if sold_by == "t" and mass is None:
        step, sold_by = factor_row("stone", f"sold-by-{usual}").value, usual
    wanted = {"m3": loose, "yd3": loose / CUBIC_YARD, "t": mass or 0.0}[sold_by]
    return round(math.ceil(wanted / step - 1e-9) * step, 6), sold_by
