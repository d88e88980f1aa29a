"""Make the invented surveys in ``sample_surveys/``: the same bytes on every run.

Run ``python tests/make_samples.py`` to write them again. The grounds are formulas of our own, the noise comes from a
fixed start, and readings are rounded as a person with that instrument would write them down. Only the readings and the
outline are made here; the site files and the notes beside them are written by hand.
"""

from __future__ import annotations

import json
import math
import random
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

SAMPLES = Path(__file__).resolve().parents[1] / "sample_surveys"


def noise(start: int) -> Callable[[float], float]:
    """Return a source of noise: sum of twelve uniform numbers less six, which has a standard deviation of one.

    ``Random.random`` is promised to give the same numbers in every Python; the normal generators are not.
    """
    uniform = random.Random(start).random  # noqa: S311 - nothing secret: it must repeat
    return lambda sd: sd * (math.fsum(uniform() for _ in range(12)) - 6.0)


# --- laser-yard ---------------------------------------------------------------------------------------------------

BENCH_MARK = 100.0
TURNING_POINT = 99.214
FIRST_HI, SECOND_HI = 101.352, 100.846
FENCE = {"F1": (0.0, 0.0), "F2": (22.3, 0.4), "F3": (21.6, 16.2), "F4": (0.5, 15.7)}
MARKS = {
    "H1": (4.0, -1.2, "house corner"),
    "H2": (12.5, -1.2, "house corner"),
    "T1": (7.1, 9.3, "damson tree"),
    "M1": (16.4, 4.6, "inspection cover"),
}


def yard_level(east: float, north: float) -> float:
    """Level of the invented garden: falls away from the house, with a shelf two thirds of the way down. [m]"""
    shelf = 0.058 * (north - 9.6) * math.exp(-(((east - 15.2) / 5.5) ** 2) - ((north - 9.6) / 3.6) ** 2)
    return 99.78 - 0.066 * north + 0.014 * (east - 11.0) + 0.0011 * (east - 9.0) ** 2 + shelf


def laser_shots() -> str:
    """Return ``shots.csv``: two set-ups of a rotary laser, tied by a bench mark and a turning point."""
    draw = noise(4711)
    rows: list[tuple[str, str, float, float, float, str]] = [
        ("S1", "BM1", math.nan, math.nan, FIRST_HI - BENCH_MARK, "corner of back doorstep"),
    ]

    def shoot(setup: str, name: str, east: float, north: float, note: str) -> None:
        instrument = FIRST_HI if setup == "S1" else SECOND_HI
        rows.append((setup, name, east, north, instrument - yard_level(east, north) + draw(0.002), note))

    def mark(setup: str, name: str) -> None:
        east, north, *note = MARKS[name] if name in MARKS else (*FENCE[name], "fence corner")
        shoot(setup, name, east, north, note[0])

    for name in ("H1", "H2", "F1", "F2", "M1"):
        mark("S1", name)
    number = 0
    for row in range(7):
        setup = "S1" if row < 3 else "S2"
        if row == 3:
            rows.append(("S1", "TP1", math.nan, math.nan, FIRST_HI - TURNING_POINT + 0.001, "top of round boulder"))
            rows.append(("S2", "TP1", math.nan, math.nan, SECOND_HI - TURNING_POINT - 0.001, "top of round boulder"))
            for name in ("T1", "F3", "F4"):
                mark("S2", name)
        for column in range(8) if row % 2 == 0 else reversed(range(8)):
            east = round(1.6 + 2.73 * column + draw(0.25), 2)
            north = round(1.3 + 2.2 * row + draw(0.2), 2)
            number += 1
            shoot(setup, str(number), east, north, "")
    rows.append(("S2", "BM1", math.nan, math.nan, SECOND_HI - BENCH_MARK + 0.001, "closed on doorstep"))

    lines = ["# Rotary laser and 5 m rod; east and north taped from fence corner F1 along the house-side fence."]
    lines.append("setup,point,east (m),north (m),rod (m),note")
    for setup, name, east, north, rod, note in rows:
        place = "," if math.isnan(east) else f"{east:.2f},{north:.2f}"
        lines.append(f"{setup},{name},{place},{rod:.3f},{note}")
    return "\n".join(lines) + "\n"


# --- string-grid --------------------------------------------------------------------------------------------------


def drop_inches(across: float, along: float) -> float:
    """Ground below the string at a place in feet: a slope that eases off towards one corner. [in]"""
    ease = 4.5 * math.exp(-(((across - 15.0) / 8.0) ** 2) - ((along - 12.0) / 7.0) ** 2)
    return 7.0 + 0.62 * across + 0.38 * along + 0.010 * (along - 6.0) ** 2 - ease


def feet_and_inches(inches: float) -> str:
    """Return a length as it is written in a notebook, to the nearest quarter inch: ``1' 2 3/4"``."""
    quarters = round(inches * 4)
    feet, rest = divmod(quarters, 48)
    whole, part = divmod(rest, 4)
    fraction = f" {Fraction(part, 4)}" if part else ""
    return f"{feet}' {whole}{fraction}\""


def string_drops() -> str:
    """Return ``drops.txt``: drops below a level string over a grid taped every 4 ft, as pasted from a table."""
    draw = noise(1907)
    across, along = range(0, 25, 4), range(0, 21, 4)
    lines = ["\t".join(["drop", *(f"{distance}'" for distance in across)])]
    for distance in along:
        cells = [feet_and_inches(drop_inches(place, distance) + draw(0.15)) for place in across]
        lines.append("\t".join([f"{distance}'", *cells]))
    return "\n".join(lines) + "\n"


# --- paddock-raster -----------------------------------------------------------------------------------------------

PADDOCK_CRS = "EPSG:25832"
# At this easting the scale of the projection is 1 to within 1 in 50,000, so that the plan needs no correction.
PADDOCK_WEST, PADDOCK_NORTH = 682_600.0, 5_318_470.0
PADDOCK_COLUMNS, PADDOCK_ROWS = 92, 71
PADDOCK_NODATA = -9999.0
PADDOCK_FENCE = [(9.0, 7.5), (84.5, 10.0), (80.0, 58.5), (41.0, 64.0), (12.5, 55.0)]
PADDOCK_POSTS = {"G1": (9.0, 7.5), "G2": (84.5, 10.0)}


def paddock_level(east: float, north: float) -> float:
    """Level of the invented paddock, east and north from its south-west corner: a hollow and a low rise. [m]"""
    rise = 1.6 * math.exp(-(((east - 62.0) / 19.0) ** 2) - ((north - 39.0) / 15.0) ** 2)
    hollow = 1.1 * math.exp(-(((east - 28.0) / 14.0) ** 2) - ((north - 24.0) / 12.0) ** 2)
    return 541.0 + 0.034 * east - 0.021 * north + rise - hollow


def paddock_levels() -> list[list[float]]:
    """Return the raster's rows from the north: 1 cm steps, noise of an airborne survey, one corner without a value."""
    draw = noise(1868)
    rows = []
    for row in range(PADDOCK_ROWS):
        north = PADDOCK_ROWS - row - 0.5
        levels = []
        for column in range(PADDOCK_COLUMNS):
            east = column + 0.5
            level = round(paddock_level(east, north) + draw(0.012), 2)
            levels.append(PADDOCK_NODATA if north - east > 52.0 else level)
        rows.append(levels)
    return rows


def write_paddock(path: Path) -> None:
    """Write ``paddock.tif``, a compressed GeoTIFF of 32-bit levels."""
    import numpy as np  # noqa: PLC0415 - only the raster needs these
    import rasterio  # noqa: PLC0415

    levels = np.array(paddock_levels(), dtype=np.float32)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=PADDOCK_COLUMNS,
        height=PADDOCK_ROWS,
        count=1,
        dtype="float32",
        crs=PADDOCK_CRS,
        transform=rasterio.Affine(1.0, 0.0, PADDOCK_WEST, 0.0, -1.0, PADDOCK_NORTH),
        nodata=PADDOCK_NODATA,
        compress="deflate",
        predictor=3,
        zlevel=9,
    ) as raster:
        raster.write(levels, 1)
        raster.set_band_unit(1, "metre")
        raster.set_band_description(1, "ground level")


def paddock_outline() -> str:
    """Return ``paddock.geojson``: the fence and two gateposts, longitude and latitude to 1 cm as RFC 7946 wants it."""
    import pyproj  # noqa: PLC0415 - only the raster needs it

    south = PADDOCK_NORTH - PADDOCK_ROWS
    to_degrees = pyproj.Transformer.from_crs(PADDOCK_CRS, "OGC:CRS84", always_xy=True).transform

    def degrees(place: tuple[float, float]) -> list[float]:
        east, north = to_degrees(PADDOCK_WEST + place[0], south + place[1])
        return [round(east, 7), round(north, 7)]

    fence = [degrees(place) for place in [*PADDOCK_FENCE, PADDOCK_FENCE[0]]]
    features = [
        {
            "type": "Feature",
            "properties": {"name": "paddock fence", "role": "boundary"},
            "geometry": {"type": "Polygon", "coordinates": [fence]},
        },
        *(
            {
                "type": "Feature",
                "properties": {"name": name, "note": "gatepost"},
                "geometry": {"type": "Point", "coordinates": degrees(place)},
            }
            for name, place in PADDOCK_POSTS.items()
        ),
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}, indent=2) + "\n"


def make_samples(folder: Path) -> list[Path]:
    """Write every made file under ``folder`` and return their paths."""
    texts = {
        "laser-yard/shots.csv": laser_shots(),
        "string-grid/drops.txt": string_drops(),
        "paddock-raster/paddock.geojson": paddock_outline(),
    }
    paths = []
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("utf-8"))
        paths.append(path)
    raster = folder / "paddock-raster" / "paddock.tif"
    write_paddock(raster)
    return [*paths, raster]


if __name__ == "__main__":
    for made in make_samples(SAMPLES):
        sys.stdout.write(f"{made}\n")
