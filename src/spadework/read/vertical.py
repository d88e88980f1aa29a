"""In what unit the levels of a raster are, said by its band, by its reference system or by the user."""

from __future__ import annotations

from fractions import Fraction

from pyproj import CRS

from spadework.errors import Fault, InputError, Source

__all__ = ["UNIT_WORDS", "vertical_axis", "vertical_factor"]

METRE, FOOT, SURVEY_FOOT = Fraction(1), Fraction(3048, 10000), Fraction(1200, 3937)
"""Lengths in metres: the international foot and the U.S. survey foot are exact by definition.

U.S. National Bureau of Standards and Coast and Geodetic Survey, Refinement of values for the yard and the pound,
Federal Register notice 24 FR 5348, 1 July 1959.
"""

UNIT_WORDS = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), METRE),
    **dict.fromkeys(("dm", "decimetre", "decimetres", "decimeter", "decimeters"), METRE / 10),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), METRE / 100),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), METRE / 1000),
    **dict.fromkeys(("ft", "foot", "feet", "international foot", "international feet", "foot (international)"), FOOT),
    **dict.fromkeys(
        (
            "us-ft",
            "us ft",
            "usft",
            "ftus",
            "ft-us",
            "us_ft",
            "us foot",
            "us feet",
            "foot_us",
            "us survey foot",
            "us survey feet",
            "u.s. survey foot",
            "u.s. survey feet",
            "survey foot",
            "survey feet",
        ),
        SURVEY_FOOT,
    ),
}
"""Words for a vertical unit, and its length. [m]"""


def vertical_axis(crs: CRS | None) -> tuple[str, float]:
    """Return the unit of a system's vertical axis and its length in metres; an empty word where it has no such axis."""
    for axis in [] if crs is None else crs.axis_info:
        if axis.direction in ("up", "down"):
            sign = -1.0 if axis.direction == "down" else 1.0
            return axis.unit_name, sign * axis.unit_conversion_factor
    return "", float("nan")


def vertical_factor(
    asked: str | None,
    *,
    band_unit: str,
    axis_unit: str,
    axis_metres: float,
    horizontal_metres: float | None,
    source: Source,
) -> tuple[float, str]:
    """Return the length of one vertical unit and a sentence that says how it was found.

    Parameters
    ----------
    asked : str, optional
        Unit that the user gives; it goes before everything else.
    band_unit : str
        Unit in the band's tag; empty where there is none.
    axis_unit : str
        Unit of the system's vertical axis; empty where there is none.
    axis_metres : float
        Its length, negative for an axis that points down. [m]
    horizontal_metres : float or None
        Length of the horizontal unit; ``None`` for degrees or where it is not known. [m]
    source : Source
        The raster.

    Returns
    -------
    float
        Factor to metres.
    str
        How it was found.

    Raises
    ------
    InputError
        When nothing says so and the horizontal unit is a foot, when two say different things, or a word is not known.
    """
    if asked is not None:
        factor = _word(asked, source, "vertical-unit")
        said = [text for text in (band_unit, axis_unit) if text]
        over = f", over {' and '.join(repr(text) for text in said)} in the file" if said else ""
        return factor, f"levels taken in {asked}, as asked{over}"
    if axis_metres < 0:
        raise InputError(
            Fault(
                "its values count downwards: they are depths",
                "levels count upwards",
                "change their sign, or give vertical-unit when they count upwards after all",
                source,
            )
        )
    if band_unit:
        factor = _word(band_unit, source, "unit of the band")
        # Feet of both kinds are the same word to most writers of tags: 2 parts in a million.
        if axis_unit and abs(factor / axis_metres - 1.0) > 1e-5:
            raise InputError(
                Fault(
                    f"the band says {band_unit!r}, the coordinate reference system says {axis_unit!r}",
                    "levels are in one unit",
                    "say which is right, as vertical-unit",
                    source,
                )
            )
        return (axis_metres if axis_unit else factor), f"levels in {axis_unit or band_unit}, as the band says"
    if axis_unit:
        return axis_metres, f"levels in {axis_unit}, as the coordinate reference system says"
    if horizontal_metres is not None and horizontal_metres != 1.0:
        raise InputError(
            Fault(
                "nothing says in what unit the levels are, and the horizontal unit is a foot",
                "such rasters come with levels in feet and with levels in metres",
                "give vertical-unit: m, ft or us-ft",
                source,
            )
        )
    return 1.0, "nothing says in what unit the levels are: taken in metres (vertical-unit sets it)"


def _word(text: str, source: Source, column: str) -> float:
    """Return the length that a unit word stands for. [m]"""
    factor = UNIT_WORDS.get(" ".join(text.strip().casefold().split()))
    if factor is None:
        raise InputError(
            Fault(
                f"the vertical unit {text!r} is not known",
                "levels come in m, cm, mm, ft or us-ft",
                "give vertical-unit with one of these",
                Source(source.file, source.line, column),
            )
        )
    return float(factor)
