"""The cutting list: which timbers to buy and what to cut from each, at least cost, proved.

An integer program on an arc-flow graph: nodes are distances along a timber, an arc is a piece laid there, and a path
from 0 to the end of a stock length is one way of cutting it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from spadework.build.first_fit import Pattern, Stock, first_fit_decreasing
from spadework.build.lumber import StockLength
from spadework.errors import Fault, InputError
from spadework.units import FOOT, LengthUnit, format_length

__all__ = ["CuttingList", "Timber", "cut_stock", "cutting_list", "cutting_step"]

MOST_ARCS = 400_000
TIME_LIMIT = 10.0
"""Longest that the proof may take. [s]"""


@dataclass(frozen=True, slots=True)
class Timber:
    """One timber as bought.

    Parameters
    ----------
    stock : StockLength
        What it is bought as.
    marks : tuple of str
        The pieces cut from it, in order.
    lengths : tuple of float
        Their lengths. [m]
    offcut : float
        What is left after the last cut. [m]
    """

    stock: StockLength
    marks: tuple[str, ...]
    lengths: tuple[float, ...]
    offcut: float


@dataclass(frozen=True)
class CuttingList:
    """What to buy, and what to cut from it.

    Parameters
    ----------
    section : str
        Section of the timber, as sold.
    timbers : tuple of Timber
        Longest first.
    kerf, trim : float
        Width of a cut; length cut off to square one end. [m]
    priced : bool
        Whether cost was made least; otherwise the length bought.
    value : float
        Cost, or length bought in metres.
    bound : float
        No list can have less.
    first_fit : float
        What the quick way would have come to.
    cuts : int
        Number of saw cuts.
    """

    section: str
    timbers: tuple[Timber, ...]
    kerf: float
    trim: float
    priced: bool
    value: float
    bound: float
    first_fit: float
    cuts: int

    @property
    def proved(self) -> bool:
        """Whether there is no better list."""
        return self.value <= self.bound + 1e-6 * max(1.0, abs(self.bound))

    @property
    def bought(self) -> float:
        """Length bought. [m]"""
        return math.fsum(timber.stock.length for timber in self.timbers)

    @property
    def waste(self) -> float:
        """Length bought that does not end up in the frame, saw cuts included. [m]"""
        return self.bought - math.fsum(length for timber in self.timbers for length in timber.lengths)

    @property
    def counts(self) -> dict[float, int]:
        """Number of timbers to buy by length, longest first. [m]"""
        found = Counter(timber.stock.length for timber in self.timbers)
        return dict(sorted(found.items(), reverse=True))


def cutting_step(unit: LengthUnit) -> float:
    """Return the step that lengths are cut to: 1 mm or 1/16 in. [m]"""
    return 0.001 if unit is LengthUnit.METRE else FOOT / 192


def cutting_list(
    pieces: Sequence[tuple[str, float]],
    stock: Sequence[StockLength],
    *,
    section: str,
    kerf: float,
    trim: float = 0.0,
    unit: LengthUnit,
) -> CuttingList:
    """Return the list of least cost, or of least length bought where a price is missing.

    Parameters
    ----------
    pieces : sequence of (str, float)
        Mark and length of each piece. [m]
    stock : sequence of StockLength
        What can be bought.
    section : str
        Section of the timber, as sold.
    kerf, trim : float
        Width of a saw cut; length cut off every timber to square one end. [m]
    unit : LengthUnit
        Lengths are counted in whole millimetres or sixteenths of an inch, pieces to the nearest, kerf and trim upwards.

    Raises
    ------
    InputError
        If a piece is longer than every timber, or there are not timbers enough.
    """
    step = cutting_step(unit)
    whole = [(mark, _steps(length, step)) for mark, length in pieces]
    saw, off = math.ceil(kerf / step - 1e-6), math.ceil(trim / step - 1e-6)
    priced = all(one.price is not None for one in stock)
    items = [
        Stock(
            math.floor(one.length / step + 1e-6) - off,
            one.price if priced and one.price is not None else one.length,
            one.available,
        )
        for one in stock
    ]
    longest = max((item.length for item in items), default=0)
    faults = [
        Fault(
            f"piece {mark} is {format_length(length * step, unit)} long, and the longest timber gives "
            f"{format_length(longest * step, unit)}",
            "a piece is cut from one timber",
            "Name a longer timber under [materials] stock",
        )
        for mark, length in whole
        if length > longest
    ]
    if faults:
        raise InputError(faults)
    patterns, bound, quick = cut_stock([length for _, length in whole], items, saw)
    waiting: dict[int, list[str]] = {}
    for mark, length in whole:
        waiting.setdefault(length, []).append(mark)
    timbers = tuple(
        Timber(
            stock[pattern.stock],
            tuple(waiting[piece].pop(0) for piece in pattern.pieces),
            tuple(piece * step for piece in pattern.pieces),
            max(items[pattern.stock].length - pattern.used(saw) - saw, 0) * step,
        )
        for pattern in sorted(patterns, key=lambda p: (-items[p.stock].length, [-piece for piece in p.pieces]))
    )
    return CuttingList(
        section=section,
        timbers=timbers,
        kerf=kerf,
        trim=trim,
        priced=priced,
        value=math.fsum(items[pattern.stock].cost for pattern in patterns),
        bound=bound,
        first_fit=quick,
        cuts=sum(len(p.pieces) - 1 + (items[p.stock].length > p.used(saw)) + (off > 0) for p in patterns),
    )


def cut_stock(
    lengths: Sequence[int], stock: Sequence[Stock], kerf: int, *, time_limit: float = TIME_LIMIT
) -> tuple[tuple[Pattern, ...], float, float]:
    """Return the cheapest way to cut pieces from stock, a lower bound on every way, and the cost of the quick way.

    Minimise ``Σ cost_s z_s``: ``z_s`` paths of pieces end within stock length ``s``, and every piece is laid as often
    as it is wanted. A piece of length ``l`` takes ``l + kerf`` of a timber counted ``kerf`` longer, so that the last
    piece may reach the very end.

    Parameters
    ----------
    lengths : sequence of int
        Pieces. [step]
    stock : sequence of Stock
        Lengths that can be bought.
    kerf : int
        Width of a cut. [step]
    time_limit : float
        Longest that the search may take; the best found by then is returned with its bound. [s]

    Raises
    ------
    InputError
        If there are not timbers enough.

    References
    ----------
    Valério de Carvalho, "Exact solution of bin-packing problems using column generation and branch-and-bound",
    Annals of Operations Research 86, 1999 (the arc-flow model).
    """
    quick = first_fit_decreasing(lengths, stock, kerf)
    quick_cost = math.inf if quick is None else math.fsum(stock[p.stock].cost for p in quick)
    if not lengths:
        return (), 0.0, 0.0
    solved = _solve(Counter(lengths), stock, kerf, time_limit)
    patterns, bound = solved if solved is not None else (None, _least_possible(lengths, stock, kerf))
    if patterns is None or (quick is not None and quick_cost <= math.fsum(stock[p.stock].cost for p in patterns)):
        patterns = quick
    if patterns is None:
        raise InputError(
            Fault(
                "there are not timbers enough for the pieces",
                "every piece is cut from a timber of [materials] stock",
                "Raise or leave out its available",
            )
        )
    return patterns, bound, quick_cost


def _steps(length: float, step: float) -> int:
    """Return a length in whole steps, to the nearest."""
    return math.floor(length / step + 0.5 + 1e-6)


def _least_possible(lengths: Sequence[int], stock: Sequence[Stock], kerf: int) -> float:
    """Return a bound that holds always: all pieces and cuts at the cheapest cost per length."""
    return sum(length + kerf for length in lengths) * min(one.cost / (one.length + kerf) for one in stock)


@dataclass(frozen=True)
class _Graph:
    """Nodes along a timber and the arcs between them; an arc with piece -1 is left over."""

    nodes: list[int]
    arcs: list[tuple[int, int, int]]


def _graph(wanted: Counter[int], ends: Sequence[int], kerf: int) -> _Graph | None:
    """Return the arcs of all ways to lay pieces, the longest first, or None where there are too many."""
    last = max(ends)
    reached = {0}
    arcs: set[tuple[int, int, int]] = set()
    for number, length in enumerate(sorted(wanted, reverse=True)):
        size = length + kerf
        for start in sorted(reached):
            for at in range(start, min(start + (wanted[length] - 1) * size, last - size) + 1, size):
                arcs.add((at, at + size, number))
                reached.add(at + size)
        if len(arcs) > MOST_ARCS:
            return None
    nodes = sorted(reached | set(ends))
    arcs |= {(first, second, -1) for first, second in pairwise(nodes)}
    return _Graph(nodes, sorted(arcs))


def _solve(
    wanted: Counter[int], stock: Sequence[Stock], kerf: int, time_limit: float
) -> tuple[tuple[Pattern, ...] | None, float] | None:
    """Solve the arc-flow program; return the patterns if any were found, and the bound."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to import, wanted by timber only
    from scipy.sparse import coo_array  # noqa: PLC0415 - the same

    ends = [one.length + kerf for one in stock]
    graph = _graph(wanted, ends, kerf)
    if graph is None:
        return None
    place = {node: row for row, node in enumerate(graph.nodes)}
    sizes = sorted(wanted, reverse=True)
    arcs, many = len(graph.arcs), len(stock)
    rows, columns, values = [], [], []

    def put(row: int, column: int, value: float) -> None:
        rows.append(row)
        columns.append(column)
        values.append(value)

    for column, (start, end, piece) in enumerate(graph.arcs):
        put(place[start], column, -1.0)
        put(place[end], column, 1.0)
        if piece >= 0:
            put(len(graph.nodes) + piece, column, 1.0)
    for number, end in enumerate(ends):
        put(0, arcs + number, 1.0)
        put(place[end], arcs + number, -1.0)
    target = np.concatenate([np.zeros(len(graph.nodes)), [float(wanted[size]) for size in sizes]])
    total = sum(wanted.values())
    most = [float(total)] * arcs + [float(total if one.available is None else one.available) for one in stock]
    result = milp(
        np.concatenate([np.zeros(arcs), [one.cost for one in stock]]),
        integrality=np.ones(arcs + many, dtype=np.int8),
        bounds=Bounds(0, np.array(most)),
        constraints=LinearConstraint(
            coo_array((values, (rows, columns)), shape=(len(target), arcs + many)).tocsr(), target, target
        ),
        options={"mip_rel_gap": 0.0, "time_limit": time_limit},
    )
    floor = _least_possible(list(wanted.elements()), stock, kerf)
    bound = max(floor, float(result.mip_dual_bound)) if result.mip_dual_bound is not None else floor
    if result.x is None:
        return None, bound
    return _patterns(graph, np.rint(result.x).astype(int).tolist(), sizes, ends), bound


def _patterns(graph: _Graph, flow: list[int], sizes: Sequence[int], ends: Sequence[int]) -> tuple[Pattern, ...]:
    """Take the flow apart into paths, one for each timber: what comes into a node goes on, or ends there."""
    leaving: dict[int, list[list[int]]] = {}
    for (start, end, piece), count in zip(graph.arcs, flow, strict=False):
        if count:
            leaving.setdefault(start, []).append([end, piece, count])
    closing: dict[int, list[int]] = {}
    for number, count in enumerate(flow[len(graph.arcs) :]):
        closing.setdefault(ends[number], []).extend([number] * count)
    patterns = []
    for _ in range(sum(flow[len(graph.arcs) :])):
        at, pieces = 0, []
        while (arc := next((arc for arc in leaving.get(at, ()) if arc[2]), None)) is not None:
            at, piece = arc[0], arc[1]
            arc[2] -= 1
            if piece >= 0:
                pieces.append(sizes[piece])
        patterns.append(Pattern(closing[at].pop(), tuple(pieces)))
    return tuple(pattern for pattern in patterns if pattern.pieces)
