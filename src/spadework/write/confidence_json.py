"""How sure a plan is, for programs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from spadework.confidence import Confidence, Figure
from spadework.confidence.words import doubtful_sentence, figure_words, next_shot_sentences, raster_words, reason_words
from spadework.units import LengthUnit

__all__ = ["confidence_document"]

Json = dict[str, Any]


class _Units(Protocol):
    """Turns metres into the units of a document."""

    unit: LengthUnit

    def length(self, metres: float | None) -> float | None: ...

    def volume(self, cubic_metres: float | None) -> float | None: ...


def confidence_document(confidence: Confidence | None, to: _Units) -> Json | None:
    """Return how sure a plan is as plain values; nothing where the plan does not say.

    Parameters
    ----------
    confidence : Confidence, optional
        What the plan says.
    to : object
        Turns metres and cubic metres into the document's units.
    """
    if confidence is None:
        return None
    found, unit = confidence, to.unit
    covariance = None if confidence.shots_process is None else confidence.shots_process.covariance
    raster = found.raster
    return {
        "cut": _figure(found.cut, to.volume),
        "fill": _figure(found.fill, to.volume),
        "finish": None if found.finish is None else _figure(found.finish, to.length),
        "words": f"Expected cut {figure_words(found.cut, unit)}; {reason_words(found, unit)}.",
        "stakes": [
            {
                "name": stake.name,
                "drawn": to.length(stake.drawn),
                "expected": to.length(stake.expected),
                "sd": to.length(stake.sd),
                "give_or_take": to.length(stake.give_or_take),
            }
            for stake in found.stakes
        ],
        "shot_spacing": to.length(found.spacing),
        "reading_sd": to.length(found.instrument),
        "raster": None
        if raster is None
        else {
            "sd": to.length(raster.instrument_sd),
            "shift": to.length(raster.shift),
            "noise": to.length(raster.noise),
            "within_cells": to.length(raster.rough),
            "source": raster.source,
            "words": raster_words(raster, unit),
        },
        "covariance": None
        if covariance is None
        else {
            "kind": "Matérn",
            "order": covariance.smoothness,
            "sd": to.length(covariance.sd),
            "length": to.length(covariance.length),
            "roughness": to.length(covariance.roughness),
        },
        "left_out": None
        if found.validation is None
        else {
            "shots": found.validation.count,
            "triangles_rms": to.length(found.validation.triangles),
            "smooth_rms": to.length(found.validation.smooth),
            "prefers": found.validation.prefers,
        },
        "doubtful_shots": [
            {
                "point": shot.name,
                "east": to.length(shot.east),
                "north": to.length(shot.north),
                "level": to.length(shot.level),
                "predicted": to.length(shot.predicted),
                "sd": to.length(shot.sd),
                "standardised": shot.standardised,
                "sentence": doubtful_sentence(shot, unit),
            }
            for shot in found.doubtful
        ],
        "next_shots": {
            "volume": found.next_volume,
            "worth": to.volume(found.worth),
            "sentences": next_shot_sentences(found, unit),
            "shots": [
                {
                    "east": to.length(shot.east),
                    "north": to.length(shot.north),
                    "sd_before": to.volume(shot.before),
                    "sd_after": to.volume(shot.after),
                    "worth_it": shot.worth_it,
                }
                for shot in found.next_shots
            ],
        },
    }


def _figure(figure: Figure, convert: Callable[[float | None], float | None]) -> Json:
    """Return a figure: drawn, expected, and the parts of its doubt."""
    names = ("drawn", "expected", "sd", "low", "high", "measuring", "between")
    return {**{name: convert(getattr(figure, name)) for name in names}, "limited_by": figure.limited_by}
