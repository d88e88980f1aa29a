"""Do the 95 % intervals hold the truth in 95 cases of 100, and do the suggested shots help more than others?

Run it from the top folder; the figures of docs/accuracy.md are its output:

    python tests/studies/calibration.py
    python tests/studies/calibration.py --odd --no-more
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

sys.path.insert(0, str(Path(__file__).parent))

from random_yards import KEEP, ODD_SEEDS, TWO_SCALES, Yard, random_yard, shots_of

from spadework.confidence import Confidence, assess
from spadework.confidence.nodes import pad_nodes
from spadework.confidence.volumes import cut_fill_of, expected_cut_fill
from spadework.earthwork import earthwork
from spadework.ground.process import fit_process
from spadework.readings import FloatArray
from spadework.shots import join_shots
from spadework.stakeout import stake_out

YARDS = 500
NORMAL_95 = 1.959964
MORE = 5
FINER_NODES = 600


@dataclass
class Outcome:
    """What one yard showed."""

    order: float
    count: int
    cut_held: bool
    fill_held: bool
    stakes_held: float
    marks_held: float
    cut: float
    drawn: float
    expected: float
    sd: float
    after: dict[str, float]


def study(seed: int, *, more: bool = True) -> Outcome:
    """Survey a random yard, plan on it, and compare with its truth."""
    # One thread each: on small matrices threads cost more than they bring.
    with threadpool_limits(limits=1):
        return _study(seed, more=more)


def _study(seed: int, *, more: bool) -> Outcome:
    yard = random_yard(seed)
    drawn = earthwork(yard.ground, yard.pad, yard.placement)
    stakes = stake_out(yard.ground, yard.pad, yard.placement).stakes
    found = _assess(yard, next_shots=MORE)
    points, area = pad_nodes(yard.pad, yard.placement, count=FINER_NODES)
    corners = yard.placement.corners(yard.pad)
    suggested = np.array([[shot.east, shot.north] for shot in found.next_shots]).reshape(-1, 2)
    ways = _other_places(yard) if more else {}
    ways = {"suggested": suggested, **ways} if more else {}
    sites = np.vstack([points, corners, *ways.values()])
    true = yard.truth.at(sites)
    level = drawn.formation + yard.pad.strip
    cut, fill = (float(v[0]) for v in cut_fill_of(true[None, : len(points)], area, level))
    depth = true[len(points) : len(points) + len(corners)] - level
    expected, sd, mark, doubt = (
        np.array([getattr(stake, name) for stake in found.stakes])
        for name in ("expected", "sd", "drawn", "give_or_take")
    )
    assert [stake.name for stake in stakes] == [stake.name for stake in found.stakes]
    after, start = {}, len(points) + len(corners)
    for name, places in ways.items():
        read = true[start : start + len(places)] + yard.instrument * yard.truth.draw.standard_normal(len(places))
        start += len(places)
        better = replace(yard, shots=join_shots([yard.shots, shots_of(places, read, yard.instrument)]))
        after[name] = _expected_cut(better, points, area, level) - cut
    return Outcome(
        order=yard.truth.order,
        count=len(yard.shots),
        cut_held=found.cut.low <= cut <= found.cut.high,
        fill_held=found.fill.low <= fill <= found.fill.high,
        stakes_held=float((np.abs(depth - expected) <= NORMAL_95 * sd).mean()),
        marks_held=float((np.abs(depth - mark) <= NORMAL_95 * doubt).mean()),
        cut=cut,
        drawn=drawn.cut,
        expected=found.cut.expected,
        sd=found.cut.sd,
        after=after,
    )


def _assess(yard: Yard, next_shots: int) -> Confidence:
    drawn = earthwork(yard.ground, yard.pad, yard.placement)
    stakes = stake_out(yard.ground, yard.pad, yard.placement).stakes
    process = fit_process(yard.shots)
    return assess(process, yard.ground, yard.pad, yard.placement, drawn, stakes, keep=KEEP, next_shots=next_shots)


def _expected_cut(yard: Yard, points: FloatArray, area: FloatArray, level: float) -> float:
    process = fit_process(yard.shots)
    return expected_cut_fill(*process.parts_mean_sd(points), area, level, process.weight).cut


def _other_places(yard: Yard) -> dict[str, FloatArray]:
    """Five places each of other ways of choosing them."""
    draw = yard.truth.draw
    half = np.abs(yard.pad.outline).max(axis=0)
    quincunx = np.array([[-0.5, -0.5], [-0.5, 0.5], [0.0, 0.0], [0.5, -0.5], [0.5, 0.5]]) * half
    west, south, east, north = yard.ground.bounds
    middle, side = np.array([(west + east) / 2, (south + north) / 2]), np.array([east - west, north - south])
    return {
        "grid on the pad": yard.placement.to_site(quincunx),
        "random on the pad": yard.placement.to_site(draw.uniform(-half, half, (MORE, 2))),
        "grid over the yard": middle + quincunx / half * side / 2,
        "random in the yard": draw.uniform([west, south], [east, north], (MORE, 2)),
    }


def report(outcomes: list[Outcome], out: Callable[[str], None] = print) -> None:
    """Print the figures."""
    out(f"{len(outcomes)} yards")

    def line(words: str, some: list[Outcome]) -> None:
        shares = [
            np.mean([getattr(o, name) for o in some]) for name in ("cut_held", "fill_held", "stakes_held", "marks_held")
        ]
        out(f"{words:<24} {len(some):>5} " + " ".join(f"{100 * share:6.1f}" for share in shares))

    out("95 % interval holds the truth, per cent        cut   fill stakes  marks")
    line("all yards", outcomes)
    for order in sorted({o.order for o in outcomes}):
        words = "ground of two scales" if order == TWO_SCALES else f"ground of order {order}"
        line(words, [o for o in outcomes if o.order == order])
    line("fewer than 50 shots", [o for o in outcomes if o.count < 50])
    line("50 shots or more", [o for o in outcomes if o.count >= 50])
    cut, drawn, expected, sd = (
        np.array([getattr(o, name) for o in outcomes]) for name in ("cut", "drawn", "expected", "sd")
    )
    for words, other in (("the drawn one:", drawn), ("the expected: ", expected)):
        off = cut - other
        out(f"true cut less {words} mean {np.mean(off):+.3f} m³, root mean square {rms(off):.3f} m³")
    out(f"predicted root mean square:  {rms(sd):.3f} m³; mean true cut {cut.mean():.3f} m³")
    if outcomes[0].after:
        before = rms(cut - expected)
        best = rms(np.array([o.after["suggested"] for o in outcomes]))
        for name in outcomes[0].after:
            error = rms(np.array([o.after[name] for o in outcomes]))
            ratio = f"{error / best:.2f} times the suggested"
            out(f"five more shots, {name:<20} error {before:.3f} -> {error:.3f} m³, {ratio}")


def rms(values: FloatArray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def main() -> None:
    """Run the study on both cores."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--yards", type=int, default=YARDS)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--odd", action="store_true", help="ground of a kind that the engine does not know")
    parser.add_argument("--no-more", action="store_true", help="leave out the shots that are added")
    asked = parser.parse_args()
    first = asked.first + (ODD_SEEDS if asked.odd else 0)
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        one = partial(study, more=not asked.no_more)
        outcomes = pool.map(one, range(first, first + asked.yards), chunksize=5)
    report(outcomes)


if __name__ == "__main__":
    main()
