"""How sure a plan is: what follows for its volumes, its level and its stakes from what the shots leave open."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from spadework.confidence.next_shots import candidates, next_best_shots
from spadework.confidence.nodes import pad_nodes
from spadework.confidence.objects import Confidence, Figure, StakeDoubt
from spadework.confidence.volumes import cut_fill_of, expected_cut_fill, levels_that_leave
from spadework.earthwork import Earthwork
from spadework.factors import container_volume
from spadework.ground import Ground
from spadework.ground.process import GroundProcess
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.stakeout import Stake

__all__ = ["WORTH_LOADS", "assess", "usual_spacing"]

SAMPLES = 1000
NEXT_SHOTS = 5
WORTH_LOADS = 0.25
"""A shot is worth its minute while it takes a quarter of a barrow load off the doubt: a judgement, without a source."""
NEAREST_SHOTS = 12
TAILS = (0.025, 0.975)


def assess(  # noqa: PLR0917 -- a plan's parts
    process: GroundProcess,
    ground: Ground,
    pad: Pad,
    placement: Placement,
    drawn: Earthwork,
    stakes: Sequence[Stake] = (),
    *,
    keep: float = 1.0,
    free_level: bool = True,
    samples: int = SAMPLES,
    next_shots: int = NEXT_SHOTS,
) -> Confidence:
    """Return how sure the volumes, the level and the stakes of a placement are.

    Parameters
    ----------
    process : GroundProcess
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
    samples : int
        Grounds drawn for standard deviations and bounds.
    next_shots : int
        Shots to suggest at most.

    Returns
    -------
    Confidence
    """
    points, area = pad_nodes(pad, placement)
    level = drawn.formation + pad.strip
    expected = expected_cut_fill(*process.parts_mean_sd(points), area, level, process.weight)
    grounds = process.samples(points, samples)
    cuts, fills = cut_fill_of(grounds, area, level)
    dig, make_up = area * expected.above, area * (1.0 - expected.above)
    cut = _figure(drawn.cut, expected.cut, cuts, process.measuring(points, dig))
    fill = _figure(drawn.fill, expected.fill, fills, process.measuring(points, make_up))
    finish = None
    if free_level:
        left = keep * drawn.cut - drawn.fill
        found = levels_that_leave(grounds, area, keep, left) - pad.strip + pad.build_up.thickness
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
        spacing=usual_spacing(process, points),
        instrument=math.sqrt(float(np.median(process.best.noise))),
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


def usual_spacing(process: GroundProcess, points: FloatArray) -> float:
    """Return the median distance of the shots nearest to a pad to their own nearest neighbours. [m]

    Parameters
    ----------
    process : GroundProcess
    points : array, shape (k, 2)
        Points of the pad. [m]
    """
    from scipy.spatial import cKDTree  # noqa: PLC0415 -- only here

    places = process.best.places[: process.shot_count]
    tree = cKDTree(places)
    middle = points.mean(axis=0) - process.origin
    near = np.argsort(np.hypot(*(places - middle).T), kind="stable")[:NEAREST_SHOTS]
    return float(np.median(np.asarray(tree.query(places[near], k=2)[0])[:, 1]))


def _figure(drawn: float, expected: float, values: FloatArray, measuring: float) -> Figure:
    """Return a figure from values of many grounds."""
    sd = float(values.std())
    low, high = np.quantile(values, TAILS)
    return Figure(drawn, expected, sd, float(low), float(high), min(math.sqrt(measuring), sd))


def _stakes(process: GroundProcess, stakes: Sequence[Stake]) -> tuple[StakeDoubt, ...]:
    """Return how sure each stake's depth is."""
    if not stakes:
        return ()
    mean, sd = process.mean_sd(np.array([[stake.east, stake.north] for stake in stakes]))
    return tuple(
        StakeDoubt(stake.name, stake.depth, float(level) - stake.strip - stake.formation, float(doubt))
        for stake, level, doubt in zip(stakes, mean, sd, strict=True)
    )
