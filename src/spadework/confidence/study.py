"""What the shots say of the ground before anything is planned: covariance, doubtful shots, and which surface fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from spadework.confidence.doubts import WrittenAt, doubtful_shots
from spadework.confidence.objects import DoubtfulShot
from spadework.ground import Ground
from spadework.ground.cross_validation import CrossValidation, compare_surfaces
from spadework.ground.line_shots import line_shots
from spadework.ground.process import FEWEST_SHOTS, fit_process, ground_shots
from spadework.ground.sure import SureGround
from spadework.levels import ReducedLevels
from spadework.shots import Shots
from spadework.units import LengthUnit

__all__ = ["GroundStudy", "study_ground"]


@dataclass(frozen=True)
class GroundStudy:
    """How well the shots describe the ground.

    Parameters
    ----------
    process : SureGround
        The ground with how sure it is: a `GroundProcess` of shots, or a `RasterDoubt`.
    validation : CrossValidation, optional
        Of shots: triangles and smooth ground at each shot, left out in turn.
    doubtful : tuple of DoubtfulShot
        Shots that do not agree with the others, the worst first.
    """

    process: SureGround = field(repr=False, compare=False)
    validation: CrossValidation | None = None
    doubtful: tuple[DoubtfulShot, ...] = ()


def study_ground(
    ground: Ground,
    shots: Shots,
    levels: Sequence[ReducedLevels] = (),
    unit: LengthUnit = LengthUnit.METRE,
    written: WrittenAt | None = None,
) -> GroundStudy | None:
    """Return what the shots say of the ground and of each other; ``None`` where they are too few to say.

    Parameters
    ----------
    ground : Ground
        Triangulated shots.
    shots : Shots
        Among which they are.
    levels : sequence of ReducedLevels
        The level books behind them.
    unit : LengthUnit
        The user's unit, for suggestions.
    written : mapping, optional
        The drops and levels that stand in other files.
    """
    if (len(ground.level) if ground.shot_count is None else ground.shot_count) < FEWEST_SHOTS:
        return None
    standing = ground_shots(ground, shots)
    process = fit_process(standing)
    doubtful = doubtful_shots(process, standing, levels, unit, written)
    validation = compare_surfaces(ground, process)
    lines = line_shots(ground, standing)
    return GroundStudy(process if lines is None else process.with_more(lines), validation, doubtful)
