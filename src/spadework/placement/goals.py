"""What should be least: weights on soil dug, made up, left over and bought, with presets."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass

from spadework.errors import Fault, InputError, Source
from spadework.placement.limits import NOWHERE
from spadework.readings import FloatArray

__all__ = ["GOALS", "Goal", "goal_named"]


@dataclass(frozen=True, slots=True)
class Goal:
    """A weighted sum of volumes, and whether soil may be bought.

    ``value = cut * Cut + fill * Fill + over * Over + short * Short``, with ``k`` the compacted volume that a volume in
    the bank makes, ``Over = max(Cut + R - Fill / k, 0)`` in the bank and ``Short = max(Fill - k * (Cut + R), 0)``
    compacted. ``R`` is soil that the pad gets besides its own cut, in the bank: out of the trench of its edge.

    Parameters
    ----------
    name : str
        Name of the preset, or the user's own.
    cut, fill, over, short : float
        Weights of the volumes; none below zero. [1/m³]
    buys : bool
        Whether soil may be short without end. Where not, no more than the limit ``bought`` may be.
    sentence : str
        What is least, in words.

    Raises
    ------
    InputError
        For a weight below zero, and for weights that let the level run up or down without end.
    """

    name: str
    cut: float = 0.0
    fill: float = 0.0
    over: float = 0.0
    short: float = 0.0
    buys: bool = True
    sentence: str = ""

    def __post_init__(self) -> None:
        weights = {"cut": self.cut, "fill": self.fill, "over": self.over, "short": self.short}
        faults = [
            Fault(f"weight {word} of goal {self.name!r} is {weight:g}", rule="a weight is zero or more")
            for word, weight in weights.items()
            if not (math.isfinite(weight) and weight >= 0)
        ]
        if not faults and (self.cut + self.over <= 0 or (self.buys and self.fill + self.short <= 0)):
            faults.append(
                Fault(
                    f"goal {self.name!r} asks for nothing that bounds the level",
                    rule="one of cut and over has a weight, and one of fill and short where soil may be bought",
                    remedy="Give both sides a weight",
                )
            )
        if faults:
            raise InputError(faults)

    def over_and_short(
        self, cut: FloatArray, fill: FloatArray, keep: float, reserve: float = 0.0
    ) -> tuple[FloatArray, FloatArray]:
        """Return what is left over and what is short.

        Parameters
        ----------
        cut, fill : array, shape (k,)
            Volume dug, in the bank, and volume made up, compacted. [m³]
        keep : float
            Compacted volume that one volume in the bank makes, 1 less the shrinkage.
        reserve : float
            Soil that the pad gets besides its own cut, in the bank. [m³]

        Returns
        -------
        over, short : array, shape (k,)
            In the bank; compacted. [m³]
        """
        surplus = keep * (cut + reserve) - fill
        return surplus.clip(min=0.0) / keep, (-surplus).clip(min=0.0)

    def values(self, cut: FloatArray, fill: FloatArray, keep: float, reserve: float = 0.0) -> FloatArray:
        """Return the weighted sum for volumes as in `over_and_short`."""
        over, short = self.over_and_short(cut, fill, keep, reserve)
        value: FloatArray = self.cut * cut + self.fill * fill + self.over * over + self.short * short
        return value

    def level_weights(self, keep: float) -> tuple[tuple[float, float], ...]:
        """Return the pairs of cut and fill weights whose best level may beat the balanced one.

        Below the balanced level the value is ``(cut + over) Cut + (fill - over / k) Fill`` and above it
        ``(cut - k short) Cut + (fill + short) Fill``: where both weights are positive it is convex, with its
        least value at a weighted quantile of the ground; where one is not, it runs in one direction from the balanced
        level.
        The best level is therefore the balanced one, or one of the levels for these weights. An empty result says that
        the balanced level is always best.

        Parameters
        ----------
        keep : float
            Compacted volume that one volume in the bank makes.

        Returns
        -------
        tuple of (float, float)
            Weights of cut and of fill.
        """
        below = (self.cut + self.over, self.fill - self.over / keep)
        above = (self.cut - keep * self.short, self.fill + self.short)
        return tuple(pair for pair in ((below, above) if self.buys else (below,)) if min(pair) > 0)


GOALS: dict[str, Goal] = {
    goal.name: goal
    for goal in (
        Goal("digging", cut=1.0, buys=False, sentence="least soil dug, none bought"),
        # Ten is a convention, not a price: it lets no level but the balanced one win.
        Goal(
            "balance",
            cut=1.0,
            fill=1.0,
            over=10.0,
            short=10.0,
            sentence="least soil moved, soil carted away or bought counting ten times",
        ),
    )
}
"""The presets, by name."""


def goal_named(name: str, source: Source = NOWHERE) -> Goal:
    """Return a preset.

    Parameters
    ----------
    name : str
        One of `GOALS`; case does not matter.
    source : Source
        Where it was written.

    Raises
    ------
    InputError
        For a name that is none of them, with the nearest spelling.
    """
    goal = GOALS.get(name.strip().lower())
    if goal is not None:
        return goal
    near = difflib.get_close_matches(name.strip().lower(), GOALS, n=1)
    raise InputError(
        Fault(
            f"there is no goal {name!r}",
            rule=f"a goal is one of {', '.join(GOALS)}",
            remedy=f"Did you mean {near[0]!r}?" if near else "Choose one of them",
            source=source,
            value=name,
        )
    )
