"""How sure a plan is: what follows for its volumes, its level and its stakes from what the shots leave open."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from spadework.confidence.next_shots import candidates, next_best_shots
from spadework.confidence.nodes import bank_nodes, pad_nodes
from spadework.confidence.objects import Confidence, Figure, StakeDoubt
from spadework.confidence.volumes import cut_fill_of, expected_cut_fill, levels_that_leave
from spadework.earthwork import Banks, Earthwork
from spadework.earthwork.bank_shape import reach_of_each
from spadework.factors import container_volume
from spadework.ground import Ground
from spadework.ground.process import GroundProcess
from spadework.ground.sure import SureGround
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout import Stake

__all__ = ["WORTH_LOADS", "assess"]

SAMPLES = 1000
NEXT_SHOTS = 5
WORTH_LOADS = 0.25
"""A shot is worth its minute while it takes a quarter of a barrow load off the doubt: a judgement, without a source."""
RIM = 8
"""Points to a side of the rim of the banks, by which it is seen how far each of them reaches."""
BEYOND = 0.2
"""How far beyond half as much again the ground of banks is looked at. [m]"""
TAILS = (0.025, 0.975)


def assess(  # noqa: PLR0917 -- a plan's parts
    process: SureGround,
    ground: Ground,
    pad: Pad,
    placement: Placement,
    drawn: Earthwork,
    stakes: Sequence[Stake] = (),
    *,
    keep: float = 1.0,
    free_level: bool = True,
    banks: Banks | None = None,
    samples: int = SAMPLES,
    next_shots: int = NEXT_SHOTS,
) -> Confidence:
    """Return how sure the volumes, the level and the stakes of a placement are.

    Parameters
    ----------
    process : SureGround
        The ground with how sure it is.
    ground : Ground
        The surface that is drawn.
    pad, placement : Pad, Placement
        What is built, and where.
    drawn : Earthwork
        Its volumes on the surface that is drawn.
    stakes : sequence of Stake
        Its stakes.
    keep : float
        Compacted volume that one volume in the bank makes.
    free_level : bool
        Whether the finish level follows from the ground.
    banks : Banks, optional
        Of a pad whose edge is a bank; ``drawn`` includes them.
    samples : int
        Grounds drawn for standard deviations and bounds.
    next_shots : int
        Shots to suggest at most.

    Returns
    -------
    Confidence
    """
    points, area, rise, fall = _nodes(pad, placement, banks)
    level = drawn.formation + pad.strip
    mean, sd = process.parts_mean_sd(points)
    there = np.isfinite(mean).all(axis=0)  # a raster ends somewhere, and banks are looked at beyond where they end
    points, area, rise, fall = points[there], area[there], rise[there], fall[there]
    mean, sd = mean[:, there], sd[:, there]
    digging = expected_cut_fill(mean, sd, area, level + rise, process.weight)
    filling = expected_cut_fill(mean, sd, area, level - fall, process.weight)
    grounds = process.samples(points, samples)
    cuts, fills = cut_fill_of(grounds, area, level + rise)[0], cut_fill_of(grounds, area, level - fall)[1]
    dig, make_up = area * digging.above, area * (1.0 - filling.above)
    cut = _figure(drawn.cut, digging.cut, cuts, _measuring(process, points, dig, cuts))
    fill = _figure(drawn.fill, filling.fill, fills, _measuring(process, points, make_up, fills))
    finish = None
    if free_level:
        left = keep * drawn.cut - drawn.fill
        found = levels_that_leave(grounds, area, keep, left, rise, fall) - pad.strip + pad.build_up.thickness
        slope = keep * dig + make_up
        moved = process.measuring(points, slope / slope.sum())
        finish = _figure(placement.finish, float(found.mean()), found, moved)
    worth = WORTH_LOADS * container_volume()
    volume, weight = ("cut", dig) if cut.sd >= fill.sd else ("fill", make_up)
    return Confidence(
        cut=cut,
        fill=fill,
        finish=finish,
        stakes=_stakes(process, stakes),
        spacing=process.spacing(points),
        instrument=process.instrument_sd,
        next_volume=volume,
        next_shots=next_best_shots(
            process,
            candidates(ground, pad, placement),
            points,
            weight,
            (cut if volume == "cut" else fill).sd,
            next_shots,
            worth,
        ),
        worth=worth,
        process=process,
    )


def _nodes(
    pad: Pad, placement: Placement, banks: Banks | None
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return points and areas of pad and banks, and how far above the formation cut begins there, and below it fill.

    The wedges of banks are taken half as far again as the banks reach: the ground may be other than it is drawn.
    """
    points, area = pad_nodes(pad, placement)
    if banks is None:
        return points, area, np.zeros(len(area)), np.zeros(len(area))
    ring = banks.outline
    share = np.arange(RIM)[:, None, None] / RIM
    rim = (ring + share * (np.roll(ring, -1, axis=0) - ring)).reshape(-1, 2)
    own = reach_of_each(pad, placement.to_pad(rim))
    places, areas, out = bank_nodes(pad, placement, 1.5 * own + BEYOND)
    inside = np.zeros(len(area))
    return (
        np.vstack([points, places]),
        np.concatenate([area, areas]),
        np.concatenate([inside, pad.edge.cut_slope * out]),
        np.concatenate([inside, pad.edge.fill_slope * out]),
    )


def _measuring(process: SureGround, points: FloatArray, weight: FloatArray, values: FloatArray) -> float:
    """Return the part of the variance of a volume that errors of measuring make. [m⁶]

    A raster may lie high or low by more than the pad is cut: then the volume does not follow the levels in proportion,
    and the part is that share of its variance which it is of a sum that does.
    """
    part = process.measuring(points, weight)
    if isinstance(process, GroundProcess):
        return part
    whole = float(weight @ process.between(points) @ weight)
    return part / whole * float(values.var()) if whole > 0 else 0.0


def _figure(drawn: float, expected: float, values: FloatArray, measuring: float) -> Figure:
    """Return a figure from values of many grounds."""
    sd = float(values.std())
    low, high = np.quantile(values, TAILS)
    return Figure(drawn, expected, sd, float(low), float(high), min(math.sqrt(measuring), sd))


def _stakes(process: SureGround, stakes: Sequence[Stake]) -> tuple[StakeDoubt, ...]:
    """Return how sure each stake's depth is."""
    if not stakes:
        return ()
    mean, sd = process.mean_sd(np.array([[stake.east, stake.north] for stake in stakes]))
    return tuple(
        StakeDoubt(
            stake.name, stake.depth, float(level) - stake.strip - stake.formation, float(doubt), stake.kind == "corner"
        )
        for stake, level, doubt in zip(stakes, mean, sd, strict=True)
    )
