"""How often the finder of mistakes names the true distance: random nets of tape ties with one slip planted in each.

Run it with ``python tests/studies/place_mistakes.py`` (a few minutes): it prints the table of docs/readings.md. Ways of
taping 4 to 8 points of a yard from corners that are known:

- ``three ties``: each from three corners, and nothing else;
- ``four ties``: each from four;
- ``neighbours``: each from three corners, and from the point before it.

Distances have a standard deviation of 8 mm and are written to the centimetre. The slip is planted on any of them.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from spadework.adjust.pen import exchanged_digits
from spadework.positions.net import adjust_place_net
from spadework.positions.net_slips import PlaceSlip, find_place_slips
from spadework.positions.observations import PlaceObservations, Sight

KINDS = ("exchanged", "whole", "ten", "dropped", "columns")
STYLES = ("three ties", "four ties", "neighbours")
SD = 0.008
STEP = 0.01

Spot = tuple[float, float]


@dataclass(frozen=True)
class Net:
    """Ties between points, as written, with the true places."""

    observations: PlaceObservations
    known: dict[str, Spot]
    near: dict[str, Spot]


@dataclass(frozen=True)
class Case:
    """A net with a slip in it: its row, and what stood there before."""

    net: Net
    row: int
    true: float
    other: int = -1


def random_net(chance: random.Random, style: str) -> Net:
    """Points of a yard of 20 by 16 m, taped from the corners of a house and a fence."""
    known = {
        f"h{row}": (east + chance.uniform(-1, 1), north + chance.uniform(-1, 1))
        for row, (east, north) in enumerate(((0, 0), (9, -1), (20, 1), (19, 16), (1, 15)))
    }
    new = {f"p{row}": (chance.uniform(2, 18), chance.uniform(2, 14)) for row in range(chance.randint(4, 8))}
    pairs: list[tuple[str, str]] = []
    for row, name in enumerate(new):
        corners = chance.sample(sorted(known), 4 if style == "four ties" else 3)
        pairs += [(corner, name) for corner in corners]
        if style == "neighbours" and row:
            pairs.append((f"p{row - 1}", name))
    places = {**known, **new}
    values = [round((math.dist(places[one], places[two]) + chance.gauss(0, SD)) / STEP) * STEP for one, two in pairs]
    count = len(pairs)
    kind: list[Sight] = ["distance"] * count
    observations = PlaceObservations(
        kind=tuple(kind),
        start=tuple(one for one, _ in pairs),
        end=tuple(two for _, two in pairs),
        value=np.array(values),
        sd=np.full(count, math.hypot(SD, STEP / math.sqrt(12.0))),
        step=np.full(count, STEP),
        set_up=("",) * count,
        line=np.arange(2, count + 2),
        file=("ties.csv",) * count,
    )
    near = {name: (east + chance.gauss(0, 0.1), north + chance.gauss(0, 0.1)) for name, (east, north) in new.items()}
    return Net(observations, known, near)


def planted(chance: random.Random, kind: str, value: float) -> float | None:
    """A distance with a slip of a kind in it; None where it cannot have that one, or too small a one to matter."""
    digits = round(value / STEP)
    if kind == "exchanged":
        wrong = chance.choice(sorted(exchanged_digits(digits)) or [digits]) * STEP
    elif kind == "whole":
        wrong = value + chance.choice((-1.0, 1.0))
    elif kind == "ten":
        wrong = value + chance.choice((-10.0, 10.0))
    else:
        text = str(digits)
        place = chance.randrange(max(1, len(text) - 2))
        wrong = int((text[:place] + text[place + 1 :]) or "0") * STEP if len(text) > 3 else value
    return wrong if wrong > 0.3 and abs(wrong - value) > 0.15 else None


def random_case(chance: random.Random, style: str, kind: str) -> Case:
    """A random net with a slip of a kind."""
    while True:
        net = random_net(chance, style)
        values = net.observations.value
        row = chance.randrange(len(values))
        true = float(values[row])
        if kind == "columns":
            others = [
                other
                for other in range(len(values))
                if other != row
                and net.observations.end[other] == net.observations.end[row]
                and abs(values[other] - true) > 0.15
            ]
            if not others:
                continue
            other = chance.choice(others)
            changed = net.observations.with_value(row, float(values[other])).with_value(other, true)
            return Case(Net(changed, net.known, net.near), row, true, other)
        wrong = planted(chance, kind, true)
        if wrong is not None:
            return Case(Net(net.observations.with_value(row, wrong), net.known, net.near), row, true)


def search(net: Net) -> tuple[tuple[PlaceSlip, ...], ...]:
    """The slips that are found in a net."""
    return find_place_slips(adjust_place_net(net.observations, net.known, net.near), net.near)


def place_of(case: Case, slips: tuple[tuple[PlaceSlip, ...], ...]) -> int:
    """At which place of the first question the truth is named; 0 where it is not."""
    for place, slip in enumerate(slips[0] if slips else (), 1):
        if case.other >= 0:
            if slip.kind == "columns" and {slip.row, slip.other_row} == {case.row, case.other}:
                return place
        elif slip.row == case.row and abs(slip.meant - case.true) < 1.5 * STEP:
            return place
    return 0


def shares(count: int, seed: int = 30) -> Iterator[tuple[str, str, float, float, float]]:
    """Give for each kind and style how often the truth is first, among those named, and anything noticed at all."""
    for kind in KINDS:
        for style in STYLES:
            first = named = noticed = 0
            for number in range(count):
                case = random_case(random.Random(f"{seed} {kind} {style} {number}"), style, kind)  # noqa: S311
                slips = search(case.net)
                place = place_of(case, slips)
                first, named, noticed = first + (place == 1), named + (place > 0), noticed + bool(slips)
            yield kind, style, first / count, named / count, noticed / count


def accused(count: int, seed: int = 31) -> float:
    """Share of clean nets that are called wrong."""
    wrong = 0
    for number in range(count):
        chance = random.Random(f"{seed} {number}")  # noqa: S311 - not a secret
        wrong += bool(search(random_net(chance, STYLES[number % 3])))
    return wrong / count


def main(count: int) -> None:
    """Print the table."""
    started = time.perf_counter()
    for kind, style, first, named, noticed in shares(count):
        print(f"{kind:10} {style:12} first {first:5.1%}  named {named:5.1%}  noticed {noticed:5.1%}", flush=True)
    print(f"clean nets accused: {accused(3 * count):.2%} of {3 * count}")
    print(f"{count} nets of each kind and style, {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
