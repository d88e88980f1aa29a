"""What the builder may choose about edge, materials, prices and crew; common practice where nothing is chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from spadework.build.lumber import StockLength, common_stock
from spadework.factors import factor_row
from spadework.units import FOOT, LengthUnit

__all__ = ["BuildOptions", "Crew", "EdgeOptions", "FabricOptions", "Machine", "StoneOptions", "fixing"]

INCH = FOOT / 12


def fixing(name: str, unit: LengthUnit) -> float:
    """Return a measure of ``factors/fixings.toml``: in inches, or the round number of millimetres for it. [m]"""
    row = factor_row("fixings", name)
    if unit is LengthUnit.METRE:
        return float(str(row.extra["metric"])) / 1000
    return row.value * INCH


@dataclass(frozen=True, slots=True)
class EdgeOptions:
    """How the timber frame is made. All lengths in metres.

    Parameters
    ----------
    flat : bool
        Whether timbers lie on their wide face.
    embedment : float
        Least depth of the frame's foot below the ground outside it. [m]
    lap : float
        Length that each lap joint uses up. [m]
    stagger : float
        Least distance between a joint and the joints of the course above, where the stock allows. [m]
    least_piece : float
        Shortest piece worth laying. [m]
    bar_spacing, bar_anchor : float
        Greatest distance between bars; least length of a bar below the frame. [m]
    bar_lengths : tuple of float
        Lengths to choose from. [m]
    bar : str
        Row of ``factors/rebar.toml``.
    screw_length, screw_spacing, lag_length : float
        Screws between courses, and those at corners and joints. [m]
    trench_room : float
        Width dug beside the timber, on the inside. [m]
    """

    embedment: float
    lap: float
    stagger: float
    least_piece: float
    bar_spacing: float
    bar_anchor: float
    bar_lengths: tuple[float, ...]
    bar: str
    screw_length: float
    screw_spacing: float
    lag_length: float
    trench_room: float
    flat: bool = False

    @classmethod
    def usual(cls, unit: LengthUnit, **chosen: object) -> EdgeOptions:
        """Return common practice in a unit, with what was chosen in its place; ``None`` chooses nothing."""
        options = cls(
            embedment=fixing("embedment", unit),
            lap=fixing("lap", unit),
            stagger=fixing("joint-stagger", unit),
            least_piece=fixing("least-piece", unit),
            bar_spacing=fixing("bar-spacing", unit),
            bar_anchor=fixing("bar-anchor", unit),
            bar_lengths=(fixing("bar-length", unit), fixing("long-bar-length", unit)),
            bar="12-mm" if unit is LengthUnit.METRE else "no-4",
            screw_length=fixing("screw-length", unit),
            screw_spacing=fixing("screw-spacing", unit),
            lag_length=fixing("lag-length", unit),
            trench_room=fixing("trench-room", unit),
        )
        return replace(options, **{name: value for name, value in chosen.items() if value is not None})  # type: ignore[arg-type]  # names and types are the dataclass's own


@dataclass(frozen=True, slots=True)
class StoneOptions:
    """What is known of the loose materials.

    Parameters
    ----------
    compactor : str
        Row of ``factors/lifts.toml``.
    ordered : mapping of str to float
        Loose volume that somebody has ordered already, by material. [m³]
    sold_by : mapping of str to (float, str)
        Step that a material is sold in, and its unit: ``m3``, ``yd3`` or ``t``.
    """

    compactor: str = "plate-light"
    ordered: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    sold_by: Mapping[str, tuple[float, str]] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class FabricOptions:
    """The fabric under the stone; ``wanted`` is false for somebody who wants none. Lengths in metres."""

    wanted: bool = True
    roll_width: float = 2.0
    roll_length: float = 25.0
    overlap: float = 0.375
    roll_end_overlap: float = 1.0
    staple_spacing: float = 1.0

    @classmethod
    def usual(cls, unit: LengthUnit = LengthUnit.METRE, **chosen: object) -> FabricOptions:
        """Return what the tables say of firm ground, in whole inches on a site in feet, or what was chosen instead."""
        metric = unit is LengthUnit.METRE
        size, name = (1.0, "") if metric else (FOOT, "-feet")
        step = 0.001 if metric else INCH
        rows = {
            "roll_width": factor_row("fabric", f"roll-width{name}").value * size,
            "roll_length": factor_row("fabric", f"roll-length{name}").value * size,
            "overlap": round(factor_row("fabric", "overlap-firm").value / 1000 / step) * step,
            "roll_end_overlap": round(factor_row("fabric", "overlap-roll-end").value / 1000 / step) * step,
            "staple_spacing": factor_row("fabric", "staple-spacing").value,
        }
        return cls(**{**rows, **{name: value for name, value in chosen.items() if value is not None}})  # type: ignore[arg-type]  # as above


@dataclass(frozen=True, slots=True)
class Machine:
    """A hired machine: what it digs, and what it costs. No published rate was found for small ones.

    Parameters
    ----------
    name : str
        What it is.
    dig : float
        Bank volume it digs. [m³/h]
    hire : float, optional
        Price of a day.
    """

    name: str
    dig: float
    hire: float | None = None


@dataclass(frozen=True, slots=True)
class Crew:
    """Who does it.

    Parameters
    ----------
    people : int
        Workers.
    hours_per_day : float
        Of each.
    rates : mapping of str to float
        The user's own rates, by row of ``factors/rates.toml``, in that row's unit.
    wage : float, optional
        Price of an hour.
    haul_distance : float, optional
        How far soil and stone are barrowed; the plan's own mean way for soil, and 20 m for stone, where not given. [m]
    machine : Machine, optional
        What to compare hand tools against.
    """

    people: int = 1
    hours_per_day: float = 8.0
    rates: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    wage: float | None = None
    haul_distance: float | None = None
    machine: Machine | None = None


@dataclass(frozen=True, slots=True)
class BuildOptions:
    """Everything that may be chosen.

    Parameters
    ----------
    edge : EdgeOptions
    stock : tuple of StockLength
        Timber lengths that can be had.
    kerf : float
        Width of a saw cut. [m]
    trim : float
        Cut off one end of every stock timber to square it. [m]
    stone : StoneOptions
    fabric : FabricOptions
    crew : Crew
    prices : mapping of str to float
        Price of one unit of a material, by its name in the table of materials.
    currency : str
        Printed with every sum.
    """

    edge: EdgeOptions
    stock: tuple[StockLength, ...]
    kerf: float
    trim: float = 0.0
    stone: StoneOptions = field(default_factory=StoneOptions)
    fabric: FabricOptions = field(default_factory=FabricOptions.usual)
    crew: Crew = field(default_factory=Crew)
    prices: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    currency: str = ""

    @classmethod
    def usual(cls, unit: LengthUnit) -> BuildOptions:
        """Return common practice in a unit."""
        return cls(EdgeOptions.usual(unit), common_stock(unit), fixing("kerf", unit), fabric=FabricOptions.usual(unit))
