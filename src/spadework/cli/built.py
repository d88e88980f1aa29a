"""Prints in short what is built: the frame, what is bought, the hours and the sums."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from spadework.build import BuildPlan
    from spadework.units import LengthUnit

__all__ = ["print_build"]


def print_build(build: BuildPlan, unit: LengthUnit) -> None:
    """Print what is built.

    Parameters
    ----------
    build : BuildPlan
        What is built.
    unit : LengthUnit
        Unit of the words.
    """
    for line in _lines(build, unit):
        click.echo(line)


def _lines(build: BuildPlan, unit: LengthUnit) -> Iterator[str]:
    """Yield the lines."""
    from spadework.build.words import small
    from spadework.units import format_length, format_volume

    edge, cutting, hours = build.edge, build.cutting, build.hours
    yield ""
    if edge is not None and cutting is not None:
        courses = max(side.courses for side in edge.sides)
        yield (
            f"Timber edge: {len(edge.pieces)} pieces of {edge.section.name} in {courses} "
            f"course{'s' if courses > 1 else ''}, top level at {format_length(edge.top, unit)}; shows "
            f"{small(max(edge.exposed, 0.0), unit)} at most, on side {edge.tallest.name}; trench "
            f"{format_volume(edge.trench_volume, unit)}"
        )
        best = "no list of these pieces is better" if cutting.proved else "a better list may exist"
        yield f"Cutting list: {format_length(cutting.bought, unit)} of timber bought; {best}"
    if build.materials:
        yield "To buy:"
        for line in build.materials:
            unit_word = "x" if line.unit == "each" else line.unit.replace("3", "³").replace("2", "²")
            yield f"  {line.quantity:>5g} {unit_word:<4} {line.what}"
    total = hours.total
    yield f"Work: about {total.likely:.0f} worker hours, {total.low:.0f} to {total.high:.0f}"
    if build.money is not None:
        name = f" {build.money.currency}".rstrip()
        missing = f"; without {', '.join(build.money.unpriced)}" if build.money.unpriced else ""
        yield f"Materials: {build.money.materials:.2f}{name}{missing}"
        if build.money.labour is not None:
            low, likely, high = build.money.labour
            yield f"Wages: {likely:.2f}{name}, {low:.2f} to {high:.2f}"
    if hours.machine is not None:
        machine = hours.machine
        hire = "" if machine.hire is None else f", hire {machine.hire:.2f}"
        wages = "" if machine.wages is None else f", wages {machine.wages:.2f}"
        days = f"{machine.days} day{'s' if machine.days > 1 else ''}"
        yield (
            f"Digging with {machine.name}: {machine.hours:.1f} hours, {days}{hire}; "
            f"by hand {machine.hand.likely:.1f} worker hours{wages}"
        )
