"""How sure a plan is, in the words of its user and in his unit."""

from __future__ import annotations

from spadework.confidence.objects import Confidence, DoubtfulShot, Figure, NextShot
from spadework.factors import container_volume
from spadework.ground.cross_validation import CrossValidation
from spadework.units import LengthUnit, format_fine, format_length, format_volume

__all__ = [
    "doubtful_sentence",
    "figure_words",
    "level_words",
    "next_shot_sentences",
    "reason_words",
    "surface_sentence",
    "volume_words",
]


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


def reason_words(confidence: Confidence, unit: LengthUnit) -> str:
    """Return what makes most of the doubt about the volume that is in most doubt."""
    figure = confidence.cut if confidence.next_volume == "cut" else confidence.fill
    apart = f"shots are {_rough(confidence.spacing, unit)} apart"
    reading = f"each reading is sure to ± {format_fine(confidence.instrument, unit)}"
    alone = f"± {_fine_volume(figure.measuring, unit)}"
    if figure.limited_by == "spacing":
        return f"because {apart}, not because of the instrument, which alone would leave {alone}"
    if figure.limited_by == "instrument":
        return f"because {reading}, which alone leaves {alone}, not because {apart}"
    return f"because {apart} and because {reading}, which alone would leave {alone}"


def doubtful_sentence(shot: DoubtfulShot, unit: LengthUnit) -> str:
    """Return what is doubtful about a shot, and what may have been meant."""
    side = "above" if shot.error > 0 else "below"
    where = f" ({shot.where})" if shot.where else ""
    words = (
        f"{shot.name or 'A shot'}{where} at {format_length(shot.level, unit)} is "
        f"{format_length(abs(shot.error), unit)} {side} what all the others say of its place "
        f"({format_length(shot.predicted, unit)} ± {format_length(shot.sd, unit)}; {abs(shot.standardised):.1f} sd)."
    )
    return f"{words} {shot.suggestion}" if shot.suggestion else f"{words} Read it again."


def next_shot_sentences(confidence: Confidence, unit: LengthUnit) -> list[str]:
    """Return where one more shot would help most, in order, and when it is not worth it any more."""
    useful, volume = confidence.useful_shots, confidence.next_volume
    found = [_next_shot(number, shot, volume, unit) for number, shot in enumerate(useful, 1)]
    load = format_volume(container_volume(), unit, decimals=3)
    if not useful:
        start = confidence.cut.sd if volume == "cut" else confidence.fill.sd
        words = f"More shots are not worth it: none takes a quarter of a barrow load (of {load}) off the "
        return [f"{words}± {format_volume(start, unit)} of the {volume}."]
    if len(useful) < len(confidence.next_shots):
        found.append(
            f"After that more shots are not worth it: the next takes less than a quarter of a load ({load}) off."
        )
    return found


def _next_shot(number: int, shot: NextShot, volume: str, unit: LengthUnit) -> str:
    return (
        f"{number}. at east {format_length(shot.east, unit)}, north {format_length(shot.north, unit)}: "
        f"the {volume} is then known to ± {_fine_volume(shot.after, unit)} instead of "
        f"± {_fine_volume(shot.before, unit)}"
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


def _rough(metres: float, unit: LengthUnit) -> str:
    """Return a distance to a decimetre, a tenth of a foot, or an inch."""
    return format_length(metres, unit, step=1)


def _fine_volume(cubic_metres: float, unit: LengthUnit) -> str:
    return format_volume(cubic_metres, unit, decimals=3 if cubic_metres < 0.01 else None)
