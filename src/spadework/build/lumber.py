"""What a timber really measures: its section as sold, and the lengths it is sold in."""

from __future__ import annotations

import re
from dataclasses import dataclass

from spadework.errors import Fault, InputError, Source
from spadework.factors import factor_row, load_table
from spadework.units import FOOT, LengthUnit

__all__ = ["Section", "StockLength", "common_stock", "section_named"]

INCH = FOOT / 12
MILLIMETRE = 0.001
DEFAULT_SECTION = {LengthUnit.METRE: "100 x 150", LengthUnit.FOOT: "4x6", LengthUnit.FOOT_INCH: "4x6"}
_SIZES = re.compile(r"(\d+(?:\.\d+)?)\s*(?:mm|in|\")?\s*[x×]\s*(\d+(?:\.\d+)?)\s*(mm|in|\")?", re.IGNORECASE)
_LEAST_METRIC = 16.0
"""Above every nominal size in inches that is sold, below every timber in millimetres."""


@dataclass(frozen=True, slots=True)
class Section:
    """A timber as it lies in the frame.

    Parameters
    ----------
    name : str
        As sold: ``100 x 150``, ``4x6``.
    breadth : float
        Across the edge, in plan. [m]
    height : float
        Of one course. [m]
    off_low, off_high : float
        By how much one course may be lower or higher than that: wet timber, sawn timber. [m]
    source : str
        Where the size comes from.
    """

    name: str
    breadth: float
    height: float
    off_low: float = 0.0
    off_high: float = 0.0
    source: str = ""


@dataclass(frozen=True, slots=True)
class StockLength:
    """A length that can be bought.

    Parameters
    ----------
    length : float
        [m]
    price : float, optional
        Of one, in the user's currency.
    available : int, optional
        How many there are; as many as wanted where not given.
    """

    length: float
    price: float | None = None
    available: int | None = None


def section_named(text: str, unit: LengthUnit, *, flat: bool = False, source: Source | None = None) -> Section:
    """Return the real measures of a section, dressed where it is sold by a nominal size in inches.

    Parameters
    ----------
    text : str
        ``4x6`` (nominal inches), ``100 x 150`` (millimetres, sawn), or nothing for the usual one.
    unit : LengthUnit
        Unit of the site: which section is usual.
    flat : bool
        Laid on its wide face. On edge otherwise, so that one course is as high as can be.
    source : Source, optional
        Where the section was written, for the error.

    Raises
    ------
    InputError
        If it is no section, or a nominal size that is not in ``factors/lumber.toml``.

    References
    ----------
    PS 20, American Softwood Lumber Standard (dressed sizes); EN 1313-1 (sawn sizes).
    """
    name = text.strip() or DEFAULT_SECTION[unit]
    found = _SIZES.fullmatch(name)
    if found is None:
        raise InputError(_no_section(name, source, "“%s” is no section of timber"))
    sizes = sorted((float(found[1]), float(found[2])))
    metric = (found[3] or "").lower() == "mm" or (not found[3] and sizes[0] >= _LEAST_METRIC)
    return _sawn(name, sizes, flat=flat) if metric else _dressed(name, sizes, flat=flat, source=source)


def common_stock(unit: LengthUnit) -> tuple[StockLength, ...]:
    """Return the lengths that are commonly sold, for somebody who names none."""
    wanted = "m" if unit is LengthUnit.METRE else "ft"
    size = 1.0 if unit is LengthUnit.METRE else FOOT
    return tuple(StockLength(row.value * size) for row in load_table("stock") if row.unit == wanted)


def _sawn(name: str, sizes: list[float], *, flat: bool) -> Section:
    """Return a section that is called by its size in millimetres."""
    breadth, height = reversed(sizes) if flat else sizes
    row = factor_row("lumber", "sawn-to-100" if height <= 100 else "sawn-over-100")
    return Section(
        name,
        breadth * MILLIMETRE,
        height * MILLIMETRE,
        row.low * MILLIMETRE,
        row.high * MILLIMETRE,
        f"its name; {row.source.partition(',')[0]} allows {row.low:+.0f} to {row.high:+.0f} mm",
    )


def _dressed(name: str, sizes: list[float], *, flat: bool, source: Source | None) -> Section:
    """Return a section that is sold by a nominal size in inches."""
    nominal = f"{sizes[0]:g}x{sizes[1]:g}"
    rows = {row.name: row for row in load_table("lumber")}
    if f"{nominal}-width" not in rows:
        raise InputError(_no_section(name, source, "the dressed size of “%s” is not known"))
    thickness, width = rows[f"{nominal}-thickness"], rows[f"{nominal}-width"]
    across, up = (width, thickness) if flat else (thickness, width)
    return Section(
        name,
        across.value * INCH,
        up.value * INCH,
        (up.low - up.value) * INCH,
        (up.high - up.value) * INCH,
        f"{up.source.rpartition(' ')[0].rpartition(',')[2].strip()} {up.source.split()[-1]}, dressed size",
    )


def _no_section(name: str, source: Source | None, words: str) -> Fault:
    """Return the fault of a section that is not known."""
    known = ", ".join(dict.fromkeys(row.name.partition("-")[0] for row in load_table("lumber") if row.unit == "in"))
    return Fault(
        words % name,
        f'a section is "100 x 150" in millimetres as sawn, or a nominal size in inches: {known}',
        'write the real size in millimetres, such as "89 x 140"',
        source or Source(),
        name,
    )
