"""What should be least: weights on soil dug, made up, left over and bought, with presets."""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass, replace

from spadework.errors import Fault, InputError, Source
from spadework.placement.limits import NOWHERE
from spadework.readings import FloatArray

__all__ = ["GOALS", "Goal", "goal_named"]


@dataclass(frozen=True, slots=True)
class Goal:
    """A weighted sum of volumes, of the height of the edge and of barrowing, and whether soil may be bought.

    ``value = cut Cut + fill Fill + over Over + short Short + wall Wall + strip Strip + moved Moved``, with ``k`` the
    compacted volume that a volume in the bank makes, ``Over = max(Cut + R - Fill / k, 0)`` in the bank, ``Short =
    max(Fill - k (Cut + R), 0)`` compacted, and ``Wall`` the greatest height between finish and ground along the edge,
    whichever is above.
    ``R`` is soil that the pad gets besides its own cut, in the bank: out of the trench of its edge. ``Moved`` is the
    least sum of barrow loads times their way, as `spadework.haul.plan_haul` counts it.

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
    wall : float
        Weight of the greatest height of the edge; not below zero. [1/m]
    strip : float
        Weight of the turf and topsoil taken off, the same at every spot; not below zero. [1/m³]
    unit : str
        What the value is counted in: ``"m³"``, ``"m"``, ``"barrow-m"``, ``"h"``, a currency; empty for a plain number.
    moved : float
        Weight of the barrowing; not below zero. [1/m]
    ends : tuple of Goal
        The same goal with the quickest and with the slowest rates, where rates are uncertain.

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
    wall: float = 0.0
    strip: float = 0.0
    unit: str = ""
    ends: tuple[Goal, ...] = ()
    moved: float = 0.0

    def __post_init__(self) -> None:
        faults = [
            Fault(f"weight {word} of goal {self.name!r} is {weight:g}", rule="a weight is zero or more")
            for word, weight in self.weights.items()
            if not (math.isfinite(weight) and weight >= 0)
        ]
        # The way of soil bounds no level by itself: where nothing else does, that of least digging is taken.
        if not faults and not self.moved and not self.bounds_level:
            faults.append(
                Fault(
                    f"goal {self.name!r} asks for nothing that bounds the level",
                    rule="one of cut, over and wall has a weight, and one of fill, short and wall where soil may be "
                    "bought",
                    remedy="Give both sides a weight",
                )
            )
        if faults:
            raise InputError(faults)

    @property
    def weights(self) -> dict[str, float]:
        """Every weight by name."""
        names = ("cut", "fill", "over", "short", "wall", "strip", "moved")
        return {name: getattr(self, name) for name in names}

    @property
    def bounds_level(self) -> bool:
        """Whether what it counts besides barrowing keeps the level from running up or down without end."""
        down, up = self.cut + self.over + self.wall, self.fill + self.short + self.wall
        return down > 0 and (up > 0 or not self.buys)

    @property
    def without_moved(self) -> Goal:
        """The same without barrowing: what the finish follows where it is free; digging where that bounds none."""
        if not self.moved:
            return self
        if not self.bounds_level:
            return replace(GOALS["digging"], buys=self.buys and GOALS["digging"].buys)
        return replace(self, moved=0.0, ends=())

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

    def values(
        self,
        cut: FloatArray,
        fill: FloatArray,
        keep: float,
        reserve: float = 0.0,
        *,
        wall: FloatArray | float = 0.0,
        strip: FloatArray | float = 0.0,
        moved: FloatArray | float = 0.0,
    ) -> FloatArray:
        """Return the weighted sum for volumes as in `over_and_short`.

        Parameters
        ----------
        cut, fill, keep, reserve
            As in `over_and_short`.
        wall : array, shape (k,)
            Greatest height of the edge. [m]
        strip : float or array, shape (k,)
            Turf and topsoil taken off. [m³]
        moved : array, shape (k,)
            Barrow loads times their way. [m]
        """
        over, short = self.over_and_short(cut, fill, keep, reserve)
        soil: FloatArray = self.cut * cut + self.fill * fill + self.over * over + self.short * short
        return soil + self.wall * wall + self.strip * strip + self.moved * moved


GOALS: dict[str, Goal] = {
    goal.name: goal
    for goal in (
        Goal("digging", cut=1.0, buys=False, sentence="least soil dug, none bought", unit="m³"),
        # Ten is a convention, not a price: it lets no level but the balanced one win.
        Goal(
            "balance",
            cut=1.0,
            fill=1.0,
            over=10.0,
            short=10.0,
            sentence="least soil moved, soil carted away or bought counting ten times",
            unit="m³",
        ),
        Goal("wall", wall=1.0, sentence="lowest edge: least height between finish and ground along it", unit="m"),
        Goal(
            "moved",
            moved=1.0,
            buys=False,
            sentence="least barrowing, loads times their way, none bought",
            unit="barrow-m",
        ),
    )
}
"""The presets that need nothing but the ground, by name."""


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
