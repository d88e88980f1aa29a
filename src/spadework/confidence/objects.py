"""What is known of how sure a plan is: figures with their doubt, stakes, shots to doubt and shots to take."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from spadework.ground.cross_validation import CrossValidation
from spadework.ground.process import GroundProcess
from spadework.ground.raster_doubt import RasterDoubt
from spadework.ground.sure import SureGround

__all__ = ["UNSURE", "Confidence", "DoubtfulShot", "Figure", "NextShot", "StakeDoubt"]

UNSURE = "How sure the plan is cannot be said: nothing is known of how sure its ground is."


@dataclass(frozen=True, slots=True)
class Figure:
    """One result of a plan with its doubt.

    Parameters
    ----------
    drawn : float
        On the surface that is drawn.
    expected : float
        What to expect, over all grounds that the shots allow.
    sd : float
        Standard deviation about what is expected.
    low, high : float
        The true value lies between them in 95 cases of 100.
    measuring : float
        Part of ``sd`` that the errors of the readings make; its square and that of ``between`` add up to ``sd²``.
    """

    drawn: float
    expected: float
    sd: float
    low: float
    high: float
    measuring: float

    @property
    def between(self) -> float:
        """Part of ``sd`` that the ground between the shots makes."""
        return math.sqrt(max(self.sd**2 - self.measuring**2, 0.0))

    @property
    def limited_by(self) -> str:
        """``"spacing"``, ``"instrument"`` or ``"both"``: what makes most of the doubt."""
        if self.between > 2 * self.measuring:
            return "spacing"
        return "instrument" if self.measuring > 2 * self.between else "both"


@dataclass(frozen=True, slots=True)
class StakeDoubt:
    """How sure the depth at a stake is.

    Parameters
    ----------
    name : str
        Corner letter.
    drawn, expected : float
        Stripped ground less formation, as the stake is marked and as is to be expected. [m]
    sd : float
        Standard deviation about what is expected. [m]
    corner : bool
        Whether it stands at a corner of the pad.
    """

    name: str
    drawn: float
    expected: float
    sd: float
    corner: bool = True

    @property
    def give_or_take(self) -> float:
        """Root mean square error of the mark: ``√(sd² + (expected - drawn)²)``. [m]"""
        return math.hypot(self.sd, self.expected - self.drawn)


@dataclass(frozen=True, slots=True)
class DoubtfulShot:
    """A shot that does not agree with all the others.

    Parameters
    ----------
    name : str
        Point name.
    east, north : float
        Site position. [m]
    level, predicted : float
        As read, and as the others say. [m]
    sd : float
        Standard deviation of their difference. [m]
    where : str
        File and line.
    suggestion : str
        What may have been meant; empty where no common slip explains it.
    """

    name: str
    east: float
    north: float
    level: float
    predicted: float
    sd: float
    where: str = ""
    suggestion: str = ""

    @property
    def error(self) -> float:
        """Level read less level predicted. [m]"""
        return self.level - self.predicted

    @property
    def standardised(self) -> float:
        """Error over its standard deviation."""
        return self.error / self.sd


@dataclass(frozen=True, slots=True)
class NextShot:
    """A place where one more shot would help.

    Parameters
    ----------
    east, north : float
        Site position. [m]
    before, after : float
        Standard deviation of the volume without it and with it, those before it in the list taken. [m³]
    worth_it : bool
        Whether it takes enough off to be worth its trouble.
    """

    east: float
    north: float
    before: float
    after: float
    worth_it: bool

    @property
    def gain(self) -> float:
        """What it takes off the standard deviation. [m³]"""
        return self.before - self.after


@dataclass(frozen=True)
class Confidence:
    """How sure a plan is.

    Parameters
    ----------
    cut, fill : Figure
        Bank and compacted volume. [m³]
    finish : Figure, optional
        Finish level that leaves as much soil over or short as is planned; ``None`` where the user fixed the level. [m]
    stakes : tuple of StakeDoubt
        One for each stake.
    spacing : float
        Usual distance from a shot near the pad to the next. [m]
    instrument : float
        Usual standard deviation of a reading. [m]
    next_volume : str
        ``"cut"`` or ``"fill"``: the volume that the next shots are chosen for.
    next_shots : tuple of NextShot
        In the order in which to take them.
    worth : float
        What a shot must take off the standard deviation to be worth it. [m³]
    process : SureGround
        The ground with how sure it is, for drawings.
    """

    cut: Figure
    fill: Figure
    finish: Figure | None
    stakes: tuple[StakeDoubt, ...]
    spacing: float
    instrument: float
    next_volume: str
    next_shots: tuple[NextShot, ...]
    worth: float
    process: SureGround = field(repr=False, compare=False)
    doubtful: tuple[DoubtfulShot, ...] = ()
    validation: CrossValidation | None = None

    @property
    def shots_process(self) -> GroundProcess | None:
        """The process of the shots, where shots describe the ground and not a raster."""
        return self.process if isinstance(self.process, GroundProcess) else None

    @property
    def raster(self) -> RasterDoubt | None:
        """What is known of the raster, where one describes the ground."""
        return self.process if isinstance(self.process, RasterDoubt) else None

    @property
    def useful_shots(self) -> tuple[NextShot, ...]:
        """The next shots that are worth taking: those before the first that is not."""
        count = next((i for i, shot in enumerate(self.next_shots) if not shot.worth_it), len(self.next_shots))
        return self.next_shots[:count]
