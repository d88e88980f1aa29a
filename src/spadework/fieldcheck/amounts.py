"""What is still to dig and to bring, and the stone that each layer still needs, from the surface that was built."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spadework.earthwork import cut_fill, pad_pieces
from spadework.errors import InputError
from spadework.factors import FactorRow, factor_row
from spadework.fieldcheck.stages import Stage
from spadework.ground import Ground
from spadework.pad import Pad, Placement

__all__ = ["Amounts", "LayerNeed", "amounts"]

LEAST_COVERED = 0.5  # less of the pad than this says nothing of the rest of it
DEFAULT_STONE = "clean-stone"


@dataclass(frozen=True, slots=True)
class LayerNeed:
    """Stone that a layer still needs.

    Parameters
    ----------
    material : str
        As the plan calls it.
    compacted : float
        Volume in place that is missing, over the whole pad. [m³]
    loose : float
        The same as it is delivered, what is spilt included. [m³]
    source : str
        Where the factor between the two comes from.
    known : bool
        Whether the tables know the material; otherwise it is counted as clean stone.
    """

    material: str
    compacted: float
    loose: float
    source: str
    known: bool = True


@dataclass(frozen=True, slots=True)
class Amounts:
    """Volumes between the surface that was built and the one that is wanted, both as they lie.

    Parameters
    ----------
    dig, bring : float
        ``∫ max(built - wanted, 0)`` and ``∫ max(wanted - built, 0)`` over the measured part of the pad. [m³]
    covered : float
        Share of the pad that the measured points reach, 0 to 1.
    layers : tuple of LayerNeed
        For each layer of the build-up, the lowest first; empty where it cannot be said.
    under : float
        Volume missing below the formation, over the whole pad. [m³]
    """

    dig: float
    bring: float
    covered: float
    layers: tuple[LayerNeed, ...] = ()
    under: float = 0.0


def amounts(deviations: Ground, pad: Pad, placement: Placement, stage: Stage) -> Amounts:
    """Return the volumes still to dig and to bring, exact for the plane triangles between the points.

    A layer between heights ``b`` and ``t`` above the formation still needs ``F(t) - F(b)``, where ``F(h)`` is the
    volume missing up to a height. Stone is worked out for the whole pad: what was not measured is taken to lie like
    the rest.

    Parameters
    ----------
    deviations : Ground
        Surface of ``built - wanted``. [m]
    pad, placement : Pad, Placement
        The pad and where it is.
    stage : Stage
        Which surface is wanted.
    """
    pieces = pad_pieces(deviations, pad, np.array([[placement.east, placement.north, placement.bearing]]))
    dig, bring = (float(volume[0]) for volume in cut_fill(pieces, 0.0))
    covered = min(float(pieces.area.sum()) / pad.area, 1.0)

    def missing(height: float) -> float:
        """Return the volume missing up to a height above the formation, over the whole pad. [m³]"""
        return float(cut_fill(pieces, height - stage.above)[1][0]) / covered

    if stage.kind == "strip" or covered < LEAST_COVERED:
        return Amounts(dig, bring, covered)
    layers, low = [], 0.0
    for layer in pad.build_up.layers:
        need = max(missing(low + layer.depth) - missing(low), 0.0)
        factor, known = _loose_for_one(layer.material)
        loose = need * factor.value * factor_row("stone", "waste").value
        layers.append(LayerNeed(layer.material, need, loose, f"{factor.source}; {factor.where}", known))
        low += layer.depth
    return Amounts(dig, bring, covered, tuple(layers), missing(0.0))


def _loose_for_one(material: str) -> tuple[FactorRow, bool]:
    """Return how much loose stone makes one compacted, and whether the table knows the material."""
    try:
        return factor_row("stone", material), True
    except InputError:
        return factor_row("stone", DEFAULT_STONE), False
