"""What a check compares with: the pad where the plan puts it, its stakes, and the ground that was there before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from spadework.fieldcheck.stages import Stage
from spadework.fieldcheck.surface import NEAR, drawn_in, on_pad
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.units import LengthUnit

__all__ = ["Wanted"]


@dataclass(frozen=True)
class Wanted:
    """The plan as far as a check needs it.

    Parameters
    ----------
    name, date : str
        Of the plan.
    units : LengthUnit
        The user's unit.
    pad : Pad
        What is built.
    placement : Placement
        Where.
    stakes : mapping of str to (float, float)
        East and north of each stake by its name as printed. [m]
    bench : (str, float), optional
        Bench mark and its level. [m]
    ground : Ground, optional
        The ground before the work, at least under the pad; needed to check the strip.
    source : str
        Where the plan comes from, in words.
    """

    name: str
    date: str
    units: LengthUnit
    pad: Pad
    placement: Placement
    stakes: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    bench: tuple[str, float] | None = None
    ground: Ground | None = None
    source: str = ""

    @property
    def formation(self) -> float:
        """Level of the formation. [m]"""
        return self.placement.formation(self.pad)

    def stake(self, name: str) -> tuple[float, float] | None:
        """Return where a stake stands; names compare without regard to case and blanks. [m]"""
        key = "".join(name.split()).casefold()
        return next((at for stake, at in self.stakes.items() if "".join(stake.split()).casefold() == key), None)

    def level(self, stage: Stage) -> float | None:
        """Return the one level that a stage should have; None for the strip, which follows the ground. [m]"""
        return None if stage.kind == "strip" else self.formation + stage.above

    def levels_at(self, stage: Stage, points: FloatArray) -> FloatArray:
        """Return the level that points should have at a stage.

        Parameters
        ----------
        stage : Stage
            How far the work has come.
        points : array, shape (n, 2)
            Site east and north, on the pad. [m]

        Returns
        -------
        array, shape (n,)
            ``ground - strip``, or the level of the stage; NaN where the ground is not known. [m]
        """
        level = self.level(stage)
        if level is not None:
            return np.full(len(points), level)
        if self.ground is None:
            return np.full(len(points), np.nan)
        # A point taped a little off the pad is compared with the ground at the pad's edge.
        held = drawn_in(self.pad, self.placement, points)
        return self.ground.level_at(held) - self.pad.strip

    def holds(self, points: FloatArray) -> npt.NDArray[np.bool_]:
        """Return which points lie on the pad, or beside it by no more than 50 mm, shape (n,)."""
        return on_pad(self.pad, self.placement, points, NEAR)
