"""Hours of work, task by task, from published norms or the user's own rates, low, likely and high."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from spadework.build.options import Crew
from spadework.earthwork import Range
from spadework.factors import NORM_DAY, USUAL_HAUL, FactorRow, dig_row, factor_row, haul_row

__all__ = ["Hours", "MachineHours", "Quantities", "Task", "hours_for", "task_for"]


@dataclass(frozen=True, slots=True)
class Quantities:
    """What there is to do.

    Parameters
    ----------
    stakes : int
        To set out.
    strip, cut, trench : float
        Bank volumes. [m³]
    dug_loose : float
        All that is dug and carried away, in the barrow. [m³]
    fill : float
        Compacted volume to spread and tamp. [m³]
    packed : float
        Compacted volume rammed back beside the frame. [m³]
    course_length : float
        Timber to lay, all courses. [m]
    cuts : int
        Saw cuts.
    fabric : float
        Area to lay. [m²]
    stone, stone_loose : float
        Compacted volume, and volume in the barrow. [m³]
    soil : str
        Kind of soil.
    haul : float, optional
        Mean way of a barrow load of soil, where it is known. [m]
    """

    stakes: int
    strip: float
    cut: float
    trench: float
    dug_loose: float
    fill: float
    course_length: float
    cuts: int
    fabric: float
    stone: float
    stone_loose: float
    soil: str
    haul: float | None = None
    packed: float = 0.0


@dataclass(frozen=True, slots=True)
class Task:
    """One task.

    Parameters
    ----------
    name : str
        What is done.
    quantity : float
        How much of it. [`unit`]
    unit : str
        ``m3``, ``m2``, ``m`` or ``1``.
    rate : Range
        What one worker does in an hour. [`unit`/h]
    hours : Range
        Worker hours, all workers together. [h]
    row : str
        Row of ``factors/rates.toml``, by which a rate of one's own is given.
    source : str
        Where the rate comes from.
    """

    name: str
    quantity: float
    unit: str
    rate: Range
    hours: Range
    row: str
    source: str


@dataclass(frozen=True, slots=True)
class MachineHours:
    """The digging by a hired machine, against by hand.

    Parameters
    ----------
    name : str
        The machine.
    volume : float
        Bank volume that it digs. [m³]
    hours : float
        Of the machine. [h]
    days : int
        Of hire.
    hand : Range
        Worker hours for the same by hand. [h]
    hire, wages : float, optional
        Price of the hire, and of the likely hours by hand, where prices are given.
    """

    name: str
    volume: float
    hours: float
    days: int
    hand: Range
    hire: float | None
    wages: float | None


@dataclass(frozen=True)
class Hours:
    """All tasks.

    Parameters
    ----------
    tasks : tuple of Task
        In the order of the work.
    crew : Crew
        Who does it.
    machine : MachineHours, optional
        Comparison with a machine, where one is named.
    """

    tasks: tuple[Task, ...]
    crew: Crew
    machine: MachineHours | None = None

    @property
    def total(self) -> Range:
        """Worker hours of all tasks: all slow, all likely, all quick. [h]"""
        return _sum(task.hours for task in self.tasks)

    @property
    def days(self) -> Range:
        """Days for the crew. [d]"""
        per_day = self.crew.people * self.crew.hours_per_day
        total = self.total
        return Range(total.low / per_day, total.likely / per_day, total.high / per_day)

    def share(self, task: Task) -> float:
        """Return the share of a task in the likely hours."""
        total = self.total.likely
        return task.hours.likely / total if total else 0.0


def hours_for(quantities: Quantities, crew: Crew) -> Hours:
    """Return the hours of every task that there is something to do of.

    Soil is dug straight into the barrow; stone is loaded from the heap it was tipped in.

    Parameters
    ----------
    quantities : Quantities
    crew : Crew
    """
    q = quantities
    dig = dig_row(q.soil)
    given = crew.haul_distance
    haul = haul_row(given if given is not None else USUAL_HAUL if q.haul is None else q.haul)
    stone_haul = haul_row(USUAL_HAUL if given is None else given)
    wanted: Sequence[tuple[str, float, str]] = (
        ("Set out and level stakes", float(q.stakes), "set-out-stake"),
        ("Strip turf and topsoil", q.strip, "dig-loam"),
        ("Dig", q.cut, dig),
        ("Dig the trench for the edge", q.trench, "dig-trench"),
        ("Barrow what is dug", q.dug_loose, haul),
        ("Cut the timber", float(q.cuts), "saw-cut"),
        ("Lay and pin the frame", q.course_length, "lay-frame"),
        ("Ram soil back beside the frame", q.packed, "backfill"),
        ("Spread and tamp the fill", q.fill, "spread-tamp-grade"),
        ("Lay the fabric", q.fabric, "lay-fabric"),
        ("Load the stone", q.stone_loose, "load"),
        ("Barrow the stone", q.stone_loose, stone_haul),
        ("Spread and tamp the stone", q.stone, "place-gravel"),
    )
    tasks = tuple(task_for(name, quantity, row, crew) for name, quantity, row in wanted if quantity > 1e-6)
    return Hours(tasks, crew, _machine(quantities, tasks, crew))


def task_for(name: str, quantity: float, row_name: str, crew: Crew) -> Task:
    """Return one task, at the user's own rate where there is one.

    ``hours = quantity / rate``; the low hours come from the high rate.

    Parameters
    ----------
    name : str
        What is done.
    quantity : float
        How much of it, in the unit of the row.
    row_name : str
        Row of ``factors/rates.toml``.
    crew : Crew
        Whose rates beat the table's.
    """
    row = factor_row("rates", row_name)
    unit, per = row.unit.split("/")
    day = NORM_DAY if per == "day" else 1.0
    own = crew.rates.get(row_name)
    low, likely, high = (own, own, own) if own is not None else (row.low, row.value, row.high)
    rate = Range(low / day, likely / day, high / day)
    hours = Range(quantity / rate.high, quantity / rate.likely, quantity / rate.low)
    return Task(name, quantity, unit, rate, hours, row_name, "your own rate" if own is not None else _source(row))


def _source(row: FactorRow) -> str:
    """Return where a rate comes from."""
    return row.source if row.source == row.status else f"{row.source}: {row.where} ({row.status})"


def _machine(quantities: Quantities, tasks: Sequence[Task], crew: Crew) -> MachineHours | None:
    """Return the comparison of the digging by hand and by a machine."""
    if crew.machine is None:
        return None
    hand = _sum(task.hours for task in tasks if task.row.startswith("dig-"))
    volume = quantities.strip + quantities.cut + quantities.trench
    hours = volume / crew.machine.dig
    days = max(1, math.ceil(hours / crew.hours_per_day - 1e-9))
    return MachineHours(
        name=crew.machine.name,
        volume=volume,
        hours=hours,
        days=days,
        hand=hand,
        hire=None if crew.machine.hire is None else crew.machine.hire * days,
        wages=None if crew.wage is None else crew.wage * hand.likely,
    )


def _sum(ranges: Iterable[Range]) -> Range:
    """Return the sum of ranges: low with low, high with high."""
    found = list(ranges)
    return Range(
        math.fsum(one.low for one in found),
        math.fsum(one.likely for one in found),
        math.fsum(one.high for one in found),
    )
