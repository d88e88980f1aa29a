"""How sure a plan is, in the words of its user and in his unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from spadework.confidence.objects import Confidence, DoubtfulShot, Figure, NextShot
from spadework.factors import container_volume
from spadework.ground.cross_validation import CrossValidation
from spadework.ground.raster_doubt import RasterDoubt
from spadework.units import LengthUnit, format_fine, format_length, format_volume

__all__ = [
    "Plain",
    "Speech",
    "doubtful_sentence",
    "figure_words",
    "level_words",
    "next_shot_sentences",
    "raster_words",
    "reason_words",
    "surface_sentence",
    "volume_words",
]


class Speech(Protocol):
    """Prints lengths and volumes inside a sentence."""

    def length(self, metres: float) -> str:
        """Return a length. [m]"""

    def rough(self, metres: float) -> str:
        """Return a distance to a decimetre, a tenth of a foot, or an inch. [m]"""

    def fine(self, metres: float) -> str:
        """Return a small length: millimetres, or sixteenths of an inch and thousandths of a foot. [m]"""

    def volume(self, cubic_metres: float, decimals: int = 2) -> str:
        """Return a volume. [m³]"""


@dataclass(frozen=True, slots=True)
class Plain:
    """Prints plain text in one unit."""

    unit: LengthUnit

    def length(self, metres: float) -> str:
        """Return a length. [m]"""
        return format_length(metres, self.unit)

    def rough(self, metres: float) -> str:
        """Return a distance to a decimetre, a tenth of a foot, or an inch. [m]"""
        return format_length(metres, self.unit, step=1)

    def fine(self, metres: float) -> str:
        """Return a small length: millimetres, or sixteenths of an inch and thousandths of a foot. [m]"""
        return format_fine(metres, self.unit)

    def volume(self, cubic_metres: float, decimals: int = 2) -> str:
        """Return a volume. [m³]"""
        return format_volume(cubic_metres, self.unit, decimals=decimals)


def volume_words(figure: Figure, unit: LengthUnit) -> str:
    """Return what to expect of a volume: ``1.93 ± 0.21 m³``."""
    return f"{_bare(figure.expected, unit)} ± {format_volume(figure.sd, unit)}"


def figure_words(figure: Figure, unit: LengthUnit) -> str:
    """Return a volume with its doubt and the bounds that hold it in 95 cases of 100."""
    bounds = f"{_bare(max(figure.low, 0.0), unit)} to {format_volume(figure.high, unit)} in 95 cases of 100"
    return f"{volume_words(figure, unit)} ({bounds})"


def level_words(figure: Figure, unit: LengthUnit) -> str:
    """Return what to expect of a level."""
    return f"{format_length(figure.expected, unit)} ± {format_length(figure.sd, unit)}"


def reason_words(confidence: Confidence, unit: LengthUnit, say: Speech | None = None) -> str:
    """Return what makes most of the doubt about the volume that is in most doubt.

    Parameters
    ----------
    confidence : Confidence
    unit : LengthUnit
        The user's unit.
    say : Speech, optional
        Prints the numbers; plain text in the user's unit where not given.
    """
    say = say or Plain(unit)
    figure = confidence.cut if confidence.next_volume == "cut" else confidence.fill
    raster = confidence.raster
    apart = f"{'shots' if raster is None else 'its cells'} are {say.rough(confidence.spacing)} apart"
    reading, instrument = f"each reading is sure to ± {say.fine(confidence.instrument)}", "the instrument"
    if raster is not None:
        reading, instrument = f"the raster is sure to ± {say.length(confidence.instrument)}", "the raster's errors"
    alone = f"± {_fine_volume(figure.measuring, say)}"
    if figure.limited_by == "spacing":
        words = f"because {apart}, not because of {instrument}, which alone would leave {alone}"
    elif figure.limited_by == "instrument":
        words = f"because {reading}, which alone leaves {alone}, not because {apart}"
    else:
        words = f"because {apart} and because {reading}, which alone would leave {alone}"
    if raster is not None and raster.shift > raster.noise / 2:
        words += (
            f"; of that the whole raster may lie ± {say.length(raster.shift)} high or low, which one shot would tell"
        )
    return words


def raster_words(raster: RasterDoubt, unit: LengthUnit) -> str:
    """Return how sure a raster is, and where that comes from."""
    parts = []
    if raster.rest is not None:
        parts.append("a smooth rest as the shots that it is tied to leave it open")
    if raster.shift > 0:
        parts.append(f"{format_length(raster.shift, unit)} that all of it shares")
    if raster.noise > 0:
        parts.append(f"{format_length(raster.noise, unit)} in each cell")
    parts.append(f"{format_length(raster.rough, unit)} for the ground within a cell")
    sure = f"The raster's levels are sure to ± {format_length(raster.instrument_sd, unit)}, {raster.source}"
    return f"{sure}: {', '.join(parts)} (standard deviations)."


def doubtful_sentence(shot: DoubtfulShot, unit: LengthUnit, say: Speech | None = None) -> str:
    """Return what is doubtful about a shot, and what may have been meant."""
    say = say or Plain(unit)
    side = "above" if shot.error > 0 else "below"
    where = f" ({shot.where})" if shot.where else ""
    words = (
        f"{shot.name or 'A shot'}{where} at {say.length(shot.level)} is {say.length(abs(shot.error))} {side} what all "
        f"the others say of its place ({say.length(shot.predicted)} ± {say.length(shot.sd)}; "
        f"{abs(shot.standardised):.1f} sd)."
    )
    return f"{words} {shot.suggestion}" if shot.suggestion else f"{words} Read it again."


def next_shot_sentences(confidence: Confidence, unit: LengthUnit, say: Speech | None = None) -> list[str]:
    """Return where one more shot would help most, in order, and when it is not worth it any more."""
    say = say or Plain(unit)
    useful, volume = confidence.useful_shots, confidence.next_volume
    found = [_next_shot(number, shot, volume, say) for number, shot in enumerate(useful, 1)]
    load = say.volume(container_volume(), 3)
    if not useful:
        start = confidence.cut.sd if volume == "cut" else confidence.fill.sd
        words = f"More shots are not worth it: none takes a quarter of a barrow load (of {load}) off the "
        return [f"{words}± {say.volume(start)} of the {volume}."]
    if len(useful) < len(confidence.next_shots):
        found.append(
            f"After that more shots are not worth it: the next takes less than a quarter of a load ({load}) off."
        )
    return found


def _next_shot(number: int, shot: NextShot, volume: str, say: Speech) -> str:
    return (
        f"{number}. at east {say.length(shot.east)}, north {say.length(shot.north)}: the {volume} is then known to "
        f"± {_fine_volume(shot.after, say)} instead of ± {_fine_volume(shot.before, say)}"
    )


def surface_sentence(
    validation: CrossValidation, drawn: str, unit: LengthUnit, *, insisted: bool = False, bent: bool = False
) -> str:
    """Return which surface is drawn, and how triangles and the smooth ground met shots left out in turn.

    Parameters
    ----------
    validation : CrossValidation
    drawn : str
        ``"triangles"`` or ``"smooth"``.
    unit : LengthUnit
        The user's unit.
    insisted : bool
        Whether the user chose it.
    bent : bool
        Whether breaklines run through it.
    """
    names = {"triangles": "triangles between the shots", "smooth": "the smooth ground of the covariance"}
    if bent:
        names["smooth"] += ", which keeps the breaklines at their levels and rounds off the ground beside them"
    if not validation.count:
        return f"Drawn: {names[drawn]}; no shot lies inside the others, so that nothing could be compared."
    met = (
        f"Left out in turn, {validation.count} shots are met by triangles to {format_fine(validation.triangles, unit)} "
        f"and by the smooth ground to {format_fine(validation.smooth, unit)} (root mean square)"
    )
    other = {"triangles": "smooth", "smooth": "triangles"}[drawn]
    if bent and drawn == "triangles" and not insisted:
        return (
            f"{met}. Drawn: {names[drawn]}, because breaklines run through the ground: triangles bend sharply at them, "
            'and a smooth ground rounds off what lies beside; [ground] surface = "smooth" draws the other.'
        )
    if drawn == validation.prefers:
        return f"{met}. Drawn: {names[drawn]}."
    why = "as the site file asks" if insisted else "what the shots say and no more"
    return f'{met}. Drawn: {names[drawn]}, {why}; [ground] surface = "{other}" draws the other.'


def _bare(cubic_metres: float, unit: LengthUnit) -> str:
    return format_volume(cubic_metres, unit).rsplit(" ", 1)[0]


def _fine_volume(cubic_metres: float, say: Speech) -> str:
    return say.volume(cubic_metres, 3 if cubic_metres < 0.01 else 2)
