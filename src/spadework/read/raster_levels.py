"""Read the levels of a window of a raster: what is missing, scale and offset, and values that cannot be levels."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
from rasterio.errors import RasterioError
from rasterio.windows import Window

from spadework.errors import Fault, InputError
from spadework.read.raster_file import RasterHeader
from spadework.read.vertical import vertical_factor
from spadework.readings import FloatArray

__all__ = ["nodata_held", "out_of_range", "stand_ins", "window_levels"]

BoolArray = npt.NDArray[np.bool_]

STAND_INS = (
    *(-9999.0, -99999.0, -999.0, -9998.0, -32768.0, -32767.0, 32767.0, 65535.0, -2147483648.0, 9999.0, 99999.0),
    *(1e20, -1e20, 1e30, -1e30, 1e38, -1e38, float(np.finfo(np.float32).min), float(np.finfo(np.float32).max)),
)
"""Numbers that writers of rasters put where there is no value; common practice, no source."""
STAND_IN_GAP = 100.0
"""A stand-in lies this far from every other value; a real level has neighbours."""
LOWEST_LEVEL, HIGHEST_LEVEL = -500.0, 9000.0
"""The shore of the Dead Sea is 440 m under the sea, Everest 8849 m above it (from memory). [m]"""


def window_levels(
    header: RasterHeader, window: Window, *, vertical_unit: str | None = None, nodata: float | None = None
) -> tuple[FloatArray, tuple[str, ...]]:
    """Return the levels of a window in metres, NaN where the raster has no value, and what was done to them.

    Parameters
    ----------
    header : RasterHeader
        Open raster.
    window : Window
        Part of it, in whole cells.
    vertical_unit : str, optional
        Unit of the levels, over what the file says.
    nodata : float, optional
        A further number that stands for no value.

    Returns
    -------
    level : array, shape (rows, cols)
        ``(raw * scale + offset) * unit``. [m]
    note : tuple of str
        Unit, scale and offset, cells without a value.

    Raises
    ------
    InputError
        When nothing is left, a stand-in for no value was not declared, or a level is out of this world.
    """
    crs = header.crs
    horizontal_metres = crs.axis_info[0].unit_conversion_factor if crs is not None and crs.is_projected else None
    factor, unit_note = vertical_factor(
        vertical_unit,
        band_unit=header.band_unit,
        axis_unit=header.axis_unit,
        axis_metres=header.axis_metres,
        horizontal_metres=horizontal_metres,
        source=header.source,
    )
    held = None if nodata is None else nodata_held(nodata, header)
    try:
        masked = header.handle.read(header.band, window=window, masked=True)
    except (RasterioError, MemoryError) as error:
        raise InputError(
            Fault(
                "its levels cannot be read, though its header can",
                "the file must be whole",
                "fetch it again",
                header.source,
                str(error).splitlines()[0][:120] if str(error) else "",
            )
        ) from None
    raw = np.ma.getdata(masked).astype(np.float64)
    missing = np.ma.getmaskarray(masked) | ~np.isfinite(raw)
    if held is not None:
        missing |= raw == held  # a number that is none is missing already
    if missing.all():
        raise InputError(
            Fault(
                f"none of the {missing.size:,} cells here has a value",
                "ground is where the raster has values",
                "check the boundary, or take the neighbouring tile",
                header.source,
            )
        )
    faults = list(stand_ins(raw, missing, header))
    scale, offset = header.handle.scales[header.band - 1], header.handle.offsets[header.band - 1]
    level = np.where(missing, np.nan, (raw * scale + offset) * factor)
    if not faults:
        faults = list(out_of_range(level, header, unit_note))
    if faults:
        raise InputError(faults)
    notes = [unit_note]
    if (scale, offset) != (1.0, 0.0):
        notes.append(f"values times {scale:g} plus {offset:g}, as the file says")
    if np.issubdtype(masked.dtype, np.integer) and scale * factor > 0.1:
        notes.append(f"levels come in steps of {scale * factor:g} m: too coarse to dig by")
    if missing.any():
        notes.append(f"{int(missing.sum()):,} of {missing.size:,} cells have no value")
    return level, tuple(notes)


def nodata_held(nodata: float, header: RasterHeader) -> float:
    """Return a number that stands for no value as the cells of a band hold it.

    Parameters
    ----------
    nodata : float
        As the user wrote it.
    header : RasterHeader
        Of the band.

    Raises
    ------
    InputError
        When no cell of the band can hold it: then it was not meant for this file.
    """
    kind = np.dtype(header.handle.dtypes[header.band - 1])
    if np.issubdtype(kind, np.integer):
        limits = np.iinfo(kind)
        if math.isfinite(nodata) and nodata == math.floor(nodata) and limits.min <= nodata <= limits.max:
            return nodata
        holds = f"whole numbers from {limits.min} to {limits.max}"
    else:
        with np.errstate(over="ignore"):
            held = float(kind.type(nodata))
        if math.isinf(held) == math.isinf(nodata):
            return held
        holds = f"numbers up to {np.finfo(kind).max:.3g}"
    raise InputError(
        Fault(
            f"nodata is {nodata!r}, which none of its cells can hold",
            f"its band holds {holds} ({kind.name})",
            "leave nodata out, or give the number that the file holds",
            header.source,
        )
    )


def stand_ins(raw: FloatArray, missing: BoolArray, header: RasterHeader) -> Iterator[Fault]:
    """Yield a fault for each number that seems to stand for no value without having been declared."""
    values = np.unique(raw[~missing])
    for stand_in in (*STAND_INS, 0.0):
        suspect = float(np.asarray(stand_in, np.float32)) if abs(stand_in) > 1e15 else stand_in
        same = np.isclose(values, suspect, rtol=1e-6, atol=0.0)
        others = values[~same]
        if not same.any() or (len(others) and np.min(np.abs(others - suspect)) <= STAND_IN_GAP):
            continue
        if not len(others) and suspect == 0.0:
            continue  # a level sheet of water, or a test
        count = int(np.isin(raw[~missing], values[same]).sum())
        declared = header.handle.nodatavals[header.band - 1]
        says = "declares no such number" if declared is None else f"declares {declared:g} for that"
        rest = f"all others lie from {others[0]:g} to {others[-1]:g}" if len(others) else "no cell holds anything else"
        yield Fault(
            f"{count:,} cell(s) hold {values[same][0]:g}, {rest}: it seems to stand for no value",
            f"the file {says}",
            f"give nodata = {values[same][0]:g} if so, or declare it in the file",
            header.source,
        )


def out_of_range(level: FloatArray, header: RasterHeader, unit_note: str) -> Iterator[Fault]:
    """Yield a fault when a level is none on Earth."""
    lowest, highest = float(np.nanmin(level)), float(np.nanmax(level))
    if lowest < LOWEST_LEVEL or highest > HIGHEST_LEVEL:
        yield Fault(
            f"levels go from {lowest:.6g} to {highest:.6g} m ({unit_note})",
            f"land lies between {LOWEST_LEVEL:,.0f} and {HIGHEST_LEVEL:,.0f} m",
            "check the vertical unit, and whether a number stands for no value (vertical-unit, nodata)",
            header.source,
        )
