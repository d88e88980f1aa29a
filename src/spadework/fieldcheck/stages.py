"""Stages of the work: what is finished when levels are taken again, and which level it should then have."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass

from spadework.errors import Fault, InputError, Source
from spadework.factors import factor_row
from spadework.pad import BuildUp
from spadework.units import LengthUnit, length_step, parse_length

__all__ = ["Stage", "default_tolerance", "stage_named", "stage_names", "tolerance_given"]

LAYER = re.compile(r"(?:layer|lift|course)[\s_-]*(\d+)")
WORDS = {
    "strip": ("strip", "stripped", "after-strip", "stripping"),
    "formation": ("formation", "dug", "subgrade", "base"),
    "finish": ("finish", "finished", "top", "done"),
}
IN_ORDER = 1e-6  # a height above the build-up by no more than this is its top [m]


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the work.

    Parameters
    ----------
    kind : str
        ``"strip"``, ``"formation"``, ``"layer"``, ``"height"`` or ``"finish"``.
    name : str
        As it is said: ``"formation"``, ``"layer 1 (clean-stone-20)"``.
    above : float
        Height of the wanted surface above the formation; 0 for the strip, which follows the ground. [m]
    """

    kind: str
    name: str
    above: float = 0.0


def stage_names(build_up: BuildUp) -> tuple[str, ...]:
    """Return what a stage may be called, in the order of the work."""
    layers = tuple(f"layer {number}" for number in range(1, len(build_up.layers) + 1))
    return ("strip", "formation", *layers, "finish")


def stage_named(
    text: str, build_up: BuildUp, unit: LengthUnit = LengthUnit.METRE, *, source: Source | None = None
) -> Stage:
    """Return the stage that a text names.

    Parameters
    ----------
    text : str
        ``strip``, ``formation``, ``layer 2``, ``finish``, or a height above formation such as ``+50 mm`` for one lift
        of a thick layer.
    build_up : BuildUp
        Layers between formation and finish.
    unit : LengthUnit
        Unit of a plain number.
    source : Source, optional
        Where the text stands, for the error.

    Raises
    ------
    InputError
        If there is no such stage, or the height is outside the build-up.
    """
    place = source or Source()
    plain = re.sub(r"[\s_]+", " ", text.strip().casefold())
    if plain.startswith("+"):
        return _height(text.strip(), build_up, unit, place)
    dashed = plain.replace(" ", "-")
    for kind, words in WORDS.items():
        if dashed in words:
            return Stage(kind, kind, build_up.thickness if kind == "finish" else 0.0)
    layers = build_up.layers
    found = LAYER.fullmatch(plain)
    if found and 1 <= int(found[1]) <= len(layers):
        number = int(found[1])
        above = BuildUp(layers[:number]).thickness
        return Stage("layer", f"layer {number} ({layers[number - 1].material})", above)
    names = stage_names(build_up)
    near = difflib.get_close_matches(plain, [*names, *(word for words in WORDS.values() for word in words)], n=1)
    rule = f"the stages of this pad are {', '.join(names)}"
    remedy = f"Did you mean {near[0]!r}?" if near else 'For one lift of a layer give its height: "+50 mm"'
    raise InputError(Fault(f"there is no stage {text.strip()!r}", rule, remedy, place, text))


def _height(text: str, build_up: BuildUp, unit: LengthUnit, place: Source) -> Stage:
    """Return the stage at a height above the formation."""
    above = parse_length(text[1:], unit, source=place)
    if not 0 < above <= build_up.thickness + IN_ORDER:
        raise InputError(
            Fault(
                f"the stage {text!r} is {'below' if above <= 0 else 'above'} the build-up",
                "a lift lies between formation and finish",
                f"Give a height up to {build_up.thickness:.3f} m, or the name of a stage",
                place,
                text,
            )
        )
    return Stage("height", f"{text[1:].strip()} above formation", above)


def default_tolerance(stage: Stage, unit: LengthUnit = LengthUnit.METRE) -> float:
    """Return how far a level may be off at a stage where nobody says otherwise. [m]

    Parameters
    ----------
    stage : Stage
        How far the work has come; its row of ``check.toml`` counts.
    unit : LengthUnit
        The user's unit: in feet the tolerance is what is printed of it, so that the verdict is that of the numbers on
        paper.
    """
    value = factor_row("check", "layer" if stage.kind == "height" else stage.kind).value / 1000.0
    step = length_step(unit)
    return value if unit is LengthUnit.METRE else round(value / step) * step


def tolerance_given(text: str, unit: LengthUnit, names: Sequence[str] = ("land-levelling",)) -> float:
    """Return a tolerance written as a length or as the name of a row of ``check.toml``. [m]

    Raises
    ------
    InputError
        If it is neither, or not above zero.
    """
    source = Source("--tolerance")
    if any(character.isdigit() for character in text):
        value = parse_length(text.strip().removeprefix("±"), unit, source=source)
    else:
        value = factor_row("check", text, source=source).value / 1000.0
    if not value > 0:
        example = ", ".join(('"10 mm"', '"1/2 in"', *names))
        raise InputError(
            Fault(f"a tolerance of {text}", "it is above zero", f"Give one such as {example}", source, text)
        )
    return value
