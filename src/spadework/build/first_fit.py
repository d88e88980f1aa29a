"""A cutting list at once: longest piece first, each into the first timber that has room for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Pattern", "Stock", "first_fit_decreasing"]


@dataclass(frozen=True, slots=True)
class Stock:
    """A length that can be bought, in whole steps.

    Parameters
    ----------
    length : int
        Usable length. [step]
    cost : float
        What is made least: its price, or its length where there are no prices.
    available : int, optional
        How many there are.
    """

    length: int
    cost: float
    available: int | None = None


@dataclass(frozen=True, slots=True)
class Pattern:
    """One timber as bought, and the pieces cut from it.

    Parameters
    ----------
    stock : int
        Number of the stock length.
    pieces : tuple of int
        Lengths, longest first. [step]
    """

    stock: int
    pieces: tuple[int, ...]

    def used(self, kerf: int) -> int:
        """Length of the pieces and of the cuts between them. [step]"""
        return sum(self.pieces) + kerf * max(len(self.pieces) - 1, 0)


def first_fit_decreasing(lengths: Sequence[int], stock: Sequence[Stock], kerf: int) -> tuple[Pattern, ...] | None:
    """Return a cutting list that is quick and good, not always the best.

    Each stock length is tried as the one that new timbers are opened in (and the cheapest that fits, piece by piece);
    at the end every timber is exchanged for the cheapest that holds its pieces. The cheapest list wins.

    Parameters
    ----------
    lengths : sequence of int
        Pieces. [step]
    stock : sequence of Stock
        Lengths that can be bought.
    kerf : int
        Width of a cut. [step]

    Returns
    -------
    tuple of Pattern, or None
        None where the stock that is there does not do this way.
    """
    ordered = sorted(lengths, reverse=True)
    found = [_fill(ordered, stock, kerf, opened) for opened in (*range(len(stock)), None)]
    lists = [patterns for patterns in found if patterns is not None]
    return min(lists, key=lambda patterns: sum(stock[p.stock].cost for p in patterns), default=None)


def _fill(ordered: Sequence[int], stock: Sequence[Stock], kerf: int, opened: int | None) -> tuple[Pattern, ...] | None:
    """Return the list that opens new timbers in one stock length, or in the cheapest that fits."""
    timbers: list[tuple[int, list[int]]] = []
    taken = [0] * len(stock)

    def free(number: int) -> bool:
        available = stock[number].available
        return available is None or taken[number] < available

    for piece in ordered:
        for number, pieces in timbers:
            if sum(pieces) + kerf * len(pieces) + piece <= stock[number].length:
                pieces.append(piece)
                break
        else:
            fitting = [i for i in range(len(stock)) if stock[i].length >= piece and free(i)]
            if not fitting:
                return None
            number = opened if opened in fitting else min(fitting, key=lambda i: (stock[i].cost, i))
            taken[number] += 1
            timbers.append((number, [piece]))
    exchanged = []
    for number, pieces in timbers:
        used = sum(pieces) + kerf * (len(pieces) - 1)
        choice = min(
            (i for i in range(len(stock)) if stock[i].length >= used and (i == number or free(i))),
            key=lambda i: (stock[i].cost, i != number),
        )
        taken[number] -= 1
        taken[choice] += 1
        exchanged.append(Pattern(choice, tuple(pieces)))
    return tuple(exchanged)
