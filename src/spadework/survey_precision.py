"""How sure the shots of a file are: by its own figure, by the instrument named, or as such readings usually are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spadework.errors import Fault, Source
from spadework.factors import factor_row
from spadework.ground.raster_doubt import RasterAccuracy
from spadework.levels.fit import DEFAULT_INSTRUMENT, Precision, instrument_precision
from spadework.readings import DropGrid, FloatArray, LevelBook, Reading, RodList
from spadework.readings_positions import CloudPoints, RadialShots, SlopeWalk, StringDrops, TapeTies, TrackPoints
from spadework.shots import Shots
from spadework.site_schema import LevelsTable, ReadingsTable
from spadework.units import LengthUnit, format_length

__all__ = ["how_sure", "raster_accuracy", "reading_precision", "unlikely_sd"]

MILLIMETRE = 0.001
ROUGHEST = 0.2
"""A rod or a tape beside a line is read surer than this with any instrument: most sight to 30 mm. Judgement. [m]"""
USUAL = {
    DropGrid: "string-line",
    RodList: DEFAULT_INSTRUMENT,
    StringDrops: "string-line",
    SlopeWalk: "clinometer",
    RadialShots: "total-station",
    TapeTies: "tape",
    TrackPoints: "phone",
    CloudPoints: "lidar",
}
"""What a kind of readings is taken for where no instrument is named. A list of points may come from anything."""


def reading_precision(
    table: ReadingsTable, rules: LevelsTable, bench_sd: Mapping[str, float] | None = None
) -> Precision:
    """Return how sure one rod reading of a file is: as it says itself, else by its instrument, else a builder's level.

    Parameters
    ----------
    table : ReadingsTable
        What the site file says of the file.
    rules : LevelsTable
        For the weights.
    bench_sd : mapping of str to float, optional
        Standard deviations of the bench marks that least squares does not hold. [m]
    """
    if table.sd is not None:
        found = Precision(table.sd, rules.weights, "given")
    elif table.instrument:
        found = instrument_precision(table.instrument, weights=rules.weights)
    else:
        found = instrument_precision(weights=rules.weights, assumed=True)
    return replace(found, bench_sd=bench_sd or {})


def unlikely_sd(table: ReadingsTable, reading: Reading, unit: LengthUnit, source: Source) -> list[Fault]:
    """Return the fault of an ``sd`` that no rod or tape has: mostly millimetres written without their unit.

    Parameters
    ----------
    table : ReadingsTable
        What the site file says of the file.
    reading : Reading
        What the file holds.
    unit : LengthUnit
        The user's unit.
    source : Source
        Where the site file says it.
    """
    if (
        table.sd is None
        or table.sd <= ROUGHEST
        or not isinstance(reading, RodList | LevelBook | DropGrid | StringDrops)
    ):
        return []
    return [
        Fault(
            f"sd = {format_length(table.sd, unit)} is no standard deviation of a reading in {table.file}",
            f"a reading of a rod or a tape is surer than {format_length(ROUGHEST, unit)}",
            'Write it with its unit, such as sd = "2 mm"; a bare number is in the unit of the file',
            source,
        )
    ]


def how_sure(shots: Shots, table: ReadingsTable, reading: Reading) -> Shots:
    """Return shots with the standard deviations that they lack.

    Parameters
    ----------
    shots : Shots
        Those of a rod list have that of their level already, from the chain of readings behind each.
    table : ReadingsTable
        What the site file says of the file.
    reading : Reading
        What they come from.

    Returns
    -------
    Shots
        NaN where nobody knows: a list of points without ``instrument`` or ``sd``.
    """
    name = table.instrument or next((usual for kind, usual in USUAL.items() if isinstance(reading, kind)), None)
    row = factor_row("instruments", name) if name else None
    position = float(str(row.extra["position"])) * MILLIMETRE if row else np.nan
    level = table.sd if table.sd is not None else row.value * MILLIMETRE if row else np.nan
    if not isinstance(reading, RodList | LevelBook):
        shots = replace(shots, level_sd=_filled(shots.level_sd, np.where(np.isfinite(shots.level), level, np.nan)))
    return replace(shots, position_sd=_filled(shots.position_sd, np.full(len(shots), position)))


def raster_accuracy(table: ReadingsTable) -> RasterAccuracy | None:
    """Return how sure the levels of a raster are by what the site file says of it; None where it says nothing.

    Parameters
    ----------
    table : ReadingsTable
        Its ``sd`` and ``noise``, or those of its ``instrument``.
    """
    if table.instrument is None:
        return None if table.sd is None else RasterAccuracy.of(table.sd, "as [[readings]] sd says", table.noise)
    row = factor_row("instruments", table.instrument)
    noise = table.noise
    if noise is None and table.sd is None and "noise" in row.extra:
        noise = float(str(row.extra["noise"])) * MILLIMETRE
    if table.sd is not None:
        return RasterAccuracy.of(table.sd, "as [[readings]] sd says", noise)
    return RasterAccuracy.of(row.value * MILLIMETRE, f"as {row.name} usually is ({row.source})", noise)


def _filled(known: FloatArray | None, otherwise: FloatArray) -> FloatArray:
    """Return what is known, and the other where it is not."""
    return otherwise if known is None else np.where(np.isfinite(known), known, otherwise)
