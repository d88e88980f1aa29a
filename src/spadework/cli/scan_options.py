"""The options of ``spadework scan``, read all at once so that every fault is told together."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.pad import Pad
    from spadework.units import LengthUnit

__all__ = ["ScanWishes", "scan_options"]

BYTES_A_CELL = 75
"""What a cell of a tile takes with two tiles worked on and two waiting: levels as read, whole, and summed twice. [B]"""
BESIDES = 450
"""What the program takes besides. [MB]"""
DEFAULT_SOIL = "loam"
FILE = click.Path(path_type=Path, dir_okay=False)

OPTIONS = (
    click.option(
        "--pad", "pad_size", metavar="LxW", help='Size of the pad, length along its bearing first: "5.5 x 3.6 m".'
    ),
    click.option(
        "--site", metavar="SITE", type=click.Path(path_type=Path), help="Take pad, goal, soil from a site file."
    ),
    click.option("--margin", metavar="LENGTH", help="Room all round that --pad gets besides."),
    click.option("--strip", metavar="LENGTH", help="Depth of turf and topsoil taken off first."),
    click.option("--build-up", "build_up", metavar="LENGTH", help="Finish level above formation level."),
    click.option("--goal", metavar="NAME", help="digging (the default) or balance, as in a site file."),
    click.option(
        "--weights", metavar="CUT FILL", type=float, nargs=2, help="Weigh cut and fill instead: 1 1 for least of both."
    ),
    click.option("--soil", metavar="KIND", help="Kind of soil, such as loam: how much it shrinks."),
    click.option(
        "--compacts",
        "keep",
        type=float,
        metavar="K",
        help="Or: compacted volume that one volume in the ground makes, 0.87.",
    ),
    click.option(
        "--bearings", type=click.IntRange(1, 360), metavar="N", help="How many bearings are tried; 36 if not given."
    ),
    click.option(
        "--only-bearing",
        "bearing",
        type=float,
        multiple=True,
        metavar="DEG",
        help="Try this bearing only; may be given again.",
    ),
    click.option(
        "--spots", type=click.IntRange(1, 1000), default=10, show_default=True, metavar="N", help="Most spots printed."
    ),
    click.option(
        "--apart", metavar="LENGTH", help="Least distance between two spots; the pad's diagonal if not given."
    ),
    click.option(
        "--boundary", "boundaries", type=FILE, multiple=True, metavar="FILE", help="GeoJSON areas to stay in."
    ),
    click.option("--setback", metavar="LENGTH", help="Least distance from pad to boundary."),
    click.option(
        "--keep-out", "keep_outs", type=FILE, multiple=True, metavar="FILE", help="GeoJSON areas and points to avoid."
    ),
    click.option("--clearance", metavar="LENGTH", help="Least distance from pad to each of them."),
    click.option(
        "--greatest-slope", "slope", metavar="SLOPE", help='Steepest mean ground under the pad: "10 %", "1:8".'
    ),
    click.option(
        "--greatest-fall", "fall", metavar="LENGTH", help="Highest less lowest ground under the pad, at most."
    ),
    click.option("--cut-depth", metavar="LENGTH", help="Deepest cut allowed, after the strip."),
    click.option("--fill-depth", metavar="LENGTH", help="Deepest fill allowed, after the strip."),
    click.option("--crs", metavar="CRS", help="Of a raster that names none: EPSG:25832, or local for plain metres."),
    click.option("--vertical-unit", metavar="UNIT", help="Unit of the levels over what the file says: m, ft, us-ft."),
    click.option("--band", type=int, metavar="N", help="Band of the levels, where there are several."),
    click.option("--nodata", type=float, metavar="NUMBER", help="Number that stands for no value, where undeclared."),
    click.option(
        "--accuracy", metavar="LENGTH", help="How good a cell's level is (standard deviation), for the noise floor."
    ),
    click.option(
        "--memory", type=click.IntRange(600), default=1500, show_default=True, metavar="MB", help="Most memory."
    ),
    click.option(
        "--units",
        type=click.Choice(["m", "ft", "ft-in"]),
        help="Unit of plain numbers and of what is printed; m if not given.",
    ),
    click.option(
        "--map", "picture", type=FILE, metavar="FILE", help="Write the best value of every cell as a GeoTIFF (slower)."
    ),
    click.option(
        "--out", type=click.Path(path_type=Path), metavar="DIR", help="Write scan.json, spots.csv, .geojson, .png."
    ),
)


def scan_options(command: Callable[..., None]) -> Callable[..., None]:
    """Add the options of a scan to a command, in their order."""
    for option in reversed(OPTIONS):
        command = option(command)
    return command


@dataclass(frozen=True)
class ScanWishes:
    """What a scan is asked for.

    Parameters
    ----------
    unit : LengthUnit
        The user's unit.
    arguments : dict
        For `scan_file`.
    out, picture : Path, optional
        Folder of the results, and file of the map.
    notices : tuple of str
        What was taken for granted.
    """

    unit: LengthUnit
    arguments: dict[str, Any]
    out: Path | None
    picture: Path | None
    notices: tuple[str, ...]

    @classmethod
    def of(cls, given: dict[str, Any]) -> ScanWishes:
        """Return what the options ask for.

        Parameters
        ----------
        given : dict
            Values of the options by their names.

        Raises
        ------
        InputError
            With every fault of the options.
        """
        reader = _Reader(given)
        arguments = reader.arguments()
        if reader.faults:
            raise InputError(reader.faults)
        return cls(reader.unit, arguments, given["out"], given["picture"], tuple(reader.notices))


class _Reader:
    """Reads the options one by one and collects what is wrong."""

    def __init__(self, given: dict[str, Any]) -> None:
        from spadework.site import load_site
        from spadework.units import LengthUnit

        self.given, self.faults, self.notices = given, list[Fault](), list[str]()
        self.site = load_site(given["site"]) if given["site"] is not None else None
        self.unit = (
            LengthUnit(given["units"]) if given["units"] else (self.site.units if self.site else LengthUnit.METRE)
        )

    def arguments(self) -> dict[str, Any]:
        """Return the arguments of `scan_file`."""
        from spadework.placement.raster_tables import HeightLimits

        given = self.given
        pad = self._pad()
        limits = {name: self._length(name) for name in ("cut_depth", "fill_depth", "fall")}
        limits["slope"] = self._slope()
        if self.site is not None:
            asked = self.site.goal.limits
            limits["cut_depth"] = asked.cut_depth if limits["cut_depth"] is None else limits["cut_depth"]
            limits["fill_depth"] = asked.fill_depth if limits["fill_depth"] is None else limits["fill_depth"]
            self.notices += self._left_aside()
        self._match()
        return {
            "pad": pad,
            "goal": self._goal(),
            "soil": self._soil(),
            "bearings": list(given["bearing"]) or given["bearings"] or self._site_bearing() or 36,
            "spots": given["spots"],
            "apart": self._length("apart"),
            "heights": HeightLimits(**{name: value for name, value in limits.items() if value is not None}),
            "boundaries": given["boundaries"],
            "setback": self._length("setback") or 0.0,
            "keep_outs": given["keep_outs"],
            "clearance": self._length("clearance") or 0.0,
            "crs": given["crs"],
            "vertical_unit": given["vertical_unit"],
            "band": given["band"],
            "nodata": given["nodata"],
            "accuracy": self._length("accuracy"),
            "tile": max(128, min(4096, int(((given["memory"] - BESIDES) * 1e6 / BYTES_A_CELL / 4) ** 0.5))),
        }

    def _match(self) -> None:
        """Refuse options that do not go together, and names that say nothing."""
        given = self.given
        pairs = (
            ("setback", "boundaries", "--setback", "--boundary"),
            ("clearance", "keep_outs", "--clearance", "--keep-out"),
            ("margin", "pad_size", "--margin", "--pad"),
        )
        for one, other, name, needs in pairs:
            if given[one] is not None and not given[other]:
                self._fault(f"{name} without {needs}", f"it belongs to {needs}", f"Give {needs} too, or leave it out")
        both = (
            ("keep", "soil", "--compacts and --soil"),
            ("goal", "weights", "--goal and --weights"),
            ("bearing", "bearings", "--only-bearing and --bearings"),
            ("pad_size", "site", "--pad and --site"),
        )
        for one, other, names in both:
            if given[one] and given[other]:
                self._fault(f"{names} both say it", "one of them is enough", "Leave one out")
        if given["picture"] is not None and given["picture"].suffix.lower() != ".tif":
            self._fault(f"--map {given['picture']} is no GeoTIFF", "its name ends in .tif", "Name it cost.tif")

    def _pad(self) -> Pad | None:
        from spadework.pad import BuildUp, Layer, Pad

        if self.site is not None:
            return self._site_pad()
        text = self.given["pad_size"]
        strip, depth, margin = (self._length(name) or 0.0 for name in ("strip", "build_up", "margin"))
        if text is None:
            self._fault(
                "no pad is given", "a scan needs to know what is looked for", 'Give --pad "5.5 x 3.6 m", or --site'
            )
            return None
        parts = re.split(r"\s*(?:x|×|X|\bby\b)\s*", text.strip())
        if len(parts) != 2:
            self._fault(f"--pad {text!r} is no size", "it is length x width", 'Write it like "5.5 x 3.6 m"')
            return None
        if re.search(r"[a-zA-Z'\"′″]", parts[1]) and not re.search(r"[a-zA-Z'\"′″]", parts[0]):
            parts[0] += re.sub(r"^[\d\s./]*", " ", parts[1])  # 16 x 12 ft: both are feet
        length, width = (self._parsed("--pad", part) for part in parts)
        if length is None or width is None:
            return None
        size = length + 2 * margin, width + 2 * margin
        if min(size) <= 0:
            self._fault(f"--pad {text!r} has no area", "length and width are more than nothing", "Give both")
            return None
        layers = (Layer("build-up", depth),) if depth else ()
        return Pad.rectangle(*size, build_up=BuildUp(layers), strip=strip)

    def _site_pad(self) -> Pad | None:
        """Return the pad of the site file; refuse what the scan cannot hold."""
        site = self.site
        if site is None:
            return None
        from spadework.survey_limits import LOCAL
        from spadework.survey_pad import site_pad

        for name, option in (("strip", "--strip"), ("build_up", "--build-up")):
            if self.given[name] is not None:
                self._fault(f"{option} and --site both say it", "the site file has its own", "Leave one out")
        try:
            pad = site_pad(site, LOCAL).pad
        except InputError as error:
            self.faults.extend(error.faults)
            return None
        finish = site.pad_table.finish if site.pad_table is not None else "free"
        if finish != "free":
            self._fault(
                f"finish = {finish!r}",
                "a scan leaves the finish level free: it is the best one at each place",
                "Take finish out, or scan with --pad, and plan the spot with its finish afterwards",
                site.source("pad", "finish"),
            )
        return pad

    def _left_aside(self) -> list[str]:
        """Return what of the site file a scan does not look at."""
        site, table = self.site, None if self.site is None else self.site.pad_table
        if site is None or table is None:
            return []
        names = {
            "[boundary]": site.boundary is not None,
            "[[keep-out]]": bool(site.keep_outs),
            "position": table.position != "free",
            "a bearing along a line": not isinstance(table.bearing, str | float | int),
            "exposed-edge": site.goal.limits.exposed_edge is not None,
            "bought": bool(site.goal.limits.bought),
        }
        found = [name for name, there in names.items() if there]
        return [f"Of the site file a scan leaves aside: {', '.join(found)}."] if found else []

    def _site_bearing(self) -> list[float]:
        """Return the bearing that the site file fixes."""
        table = None if self.site is None else self.site.pad_table
        bearing = getattr(table, "bearing", None)
        return [float(bearing)] if isinstance(bearing, float | int) else []

    def _goal(self) -> Any:
        from spadework.placement import GOALS, Goal, goal_named

        try:
            if self.given["weights"]:
                cut, fill = self.given["weights"]
                return Goal(
                    "weighted", cut=cut, fill=fill, unit="m³", sentence=f"least of {cut:g} x cut plus {fill:g} x fill"
                )
            if self.given["goal"] is None and self.site is not None:
                least = self.site.goal.least
                if least not in GOALS or GOALS[least].wall > 0 or GOALS[least].moved > 0:
                    self._fault(
                        f"the goal is {least!r}",
                        "a scan makes digging, balance or weighed cut and fill least",
                        "Say which with --goal or --weights",
                        self.site.source("goal", "least"),
                    )
                    return None
                return goal_named(least, self.site.source("goal", "least"))
            return goal_named(self.given["goal"] or "digging", Source(column="--goal"))
        except InputError as error:
            self.faults.extend(error.faults)
            return None

    def _soil(self) -> Any:
        from spadework.factors import soil_factors

        keep = self.given["keep"]
        if keep is not None:
            if not 0.3 <= keep <= 1.5:
                self._fault(
                    f"--compacts {keep:g}", "soil keeps between 0.3 and 1.5 of its volume", "0.87 is 13 % shrinkage"
                )
            return keep
        if self.given["soil"] is None and self.site is not None and self.site.soil_factors is not None:
            return self.site.soil_factors
        if self.given["soil"] is None:
            self.notices.append(f"Nothing is said of the soil: taken as {DEFAULT_SOIL}. Set --soil.")
        try:
            return soil_factors(self.given["soil"] or DEFAULT_SOIL, source=Source(column="--soil"))
        except InputError as error:
            self.faults.extend(error.faults)
            return None

    def _slope(self) -> float | None:
        from spadework.units import parse_slope

        text = self.given["slope"]
        if text is None:
            return None
        try:
            return parse_slope(text, source=Source(column="--greatest-slope"))
        except InputError as error:
            self.faults.extend(error.faults)
            return None

    def _length(self, name: str) -> float | None:
        """Return a length, none where it was not given."""
        text = self.given[name]
        option = "--" + {"fall": "greatest-fall"}.get(name, name).replace("_", "-")
        value = None if text is None else self._parsed(option, text)
        if value is not None and value < 0:
            self._fault(f"{option} {text}", "a length is not below zero", "Give it without a sign")
        return value

    def _parsed(self, option: str, text: str) -> float | None:
        from spadework.units import parse_length

        try:
            return parse_length(text.strip(), self.unit, source=Source(column=option))
        except InputError as error:
            self.faults.extend(error.faults)
            return None

    def _fault(self, what: str, rule: str, remedy: str, source: Source | None = None) -> None:
        self.faults.append(Fault(what, rule, remedy, source or Source()))
