"""Soil in the bank, in the barrow and rammed in place: what is over, and what is short."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from spadework.earthwork.account import Earthwork
from spadework.earthwork.edge_soil import EdgeSoil
from spadework.factors import SoilFactors

__all__ = ["Range", "SoilAccount", "soil_account"]


@dataclass(frozen=True, slots=True)
class Range:
    """A volume that rests on factors: likely value, and the lowest and highest that the factors' ranges allow. [m³]"""

    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True)
class SoilAccount:
    """What becomes of the soil of an earthwork.

    With ``s`` the swell and ``c`` the shrink, per volume in the bank: ``loose = bank (1 + s)``,
    ``compacted = bank (1 - c)``. Lows and highs are over all swells and shrinks within the ranges. An edge that is sunk
    into the ground gives the soil of its trench and asks for some to be rammed back beside it; what it stands in the
    place of is spared. So ``(1 - c) (cut + trench) + short = fill + packed - spared + (1 - c) over``.

    Parameters
    ----------
    strip : Range
        Turf and topsoil, bank volume; kept apart, never used as fill. [m³]
    cut_bank, cut_loose : Range
        What is dug, in the bank and in the barrow: ``cut``, ``cut (1 + s)``. [m³]
    from_cut_compacted : Range
        Fill that all that is dug would make: ``cut (1 - c)``. [m³]
    fill_compacted : Range
        Fill that is wanted. [m³]
    over_bank, over_loose : Range
        Dug and not wanted as fill: ``max(cut + trench - (fill + packed - spared) / (1 - c), 0)`` in the bank, and
        ``(1 + s)`` times that in the barrow. [m³]
    short_compacted, short_loose : Range
        Wanted and not dug: ``max(fill + packed - spared - (cut + trench) (1 - c), 0)`` in place; in the barrow, if the
        same soil is brought, ``(1 + s) / (1 - c)`` times that. [m³]
    trench_bank, trench_loose, trench_compacted : Range
        Out of the trench of the edge, in its three states. [m³]
    packed_compacted : Range
        Rammed back into the trench beside the edge. [m³]
    spared_compacted : Range
        Fill in whose place the edge stands. [m³]
    factors : SoilFactors
        What it rests on.
    """

    strip: Range
    cut_bank: Range
    cut_loose: Range
    from_cut_compacted: Range
    fill_compacted: Range
    over_bank: Range
    over_loose: Range
    short_compacted: Range
    short_loose: Range
    trench_bank: Range
    trench_loose: Range
    trench_compacted: Range
    packed_compacted: Range
    spared_compacted: Range
    factors: SoilFactors


def soil_account(earthwork: Earthwork, factors: SoilFactors, edge: EdgeSoil | None = None) -> SoilAccount:
    """Return what becomes of the soil.

    Parameters
    ----------
    earthwork : Earthwork
    factors : SoilFactors
    edge : EdgeSoil, optional
        What an edge that is sunk into the ground gives and takes.

    Returns
    -------
    SoilAccount
    """
    cut, fill = earthwork.cut, earthwork.fill
    trench = edge.trench if edge else 0.0
    packed, spared = (math.fsum(part.tolist()) for part in (edge.packed, edge.spared)) if edge else (0.0, 0.0)
    had, wanted = cut + trench, fill + packed - spared

    def over(shrink: float) -> float:
        return max(had - wanted / (1 - shrink), 0.0)

    def short(shrink: float) -> float:
        return max(wanted - had * (1 - shrink), 0.0)

    def ranged(volume: Callable[[float, float], float]) -> Range:
        """Every volume rises or falls throughout with each factor, so that its ends lie at ends of the factors."""
        ends = [
            volume(swell, shrink)
            for swell in (factors.swell_low, factors.swell_high)
            for shrink in (factors.shrink_low, factors.shrink_high)
        ]
        return Range(min(ends), volume(factors.swell, factors.shrink), max(ends))

    return SoilAccount(
        strip=ranged(lambda _swell, _shrink: earthwork.strip_volume),
        cut_bank=ranged(lambda _swell, _shrink: cut),
        cut_loose=ranged(lambda swell, _shrink: cut * (1 + swell)),
        from_cut_compacted=ranged(lambda _swell, shrink: cut * (1 - shrink)),
        fill_compacted=ranged(lambda _swell, _shrink: fill),
        over_bank=ranged(lambda _swell, shrink: over(shrink)),
        over_loose=ranged(lambda swell, shrink: over(shrink) * (1 + swell)),
        short_compacted=ranged(lambda _swell, shrink: short(shrink)),
        short_loose=ranged(lambda swell, shrink: short(shrink) * (1 + swell) / (1 - shrink)),
        trench_bank=ranged(lambda _swell, _shrink: trench),
        trench_loose=ranged(lambda swell, _shrink: trench * (1 + swell)),
        trench_compacted=ranged(lambda _swell, shrink: trench * (1 - shrink)),
        packed_compacted=ranged(lambda _swell, _shrink: packed),
        spared_compacted=ranged(lambda _swell, _shrink: spared),
        factors=factors,
    )
