"""The site file: read, checked and brought to metres, with every fault reported at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from spadework.build import BuildOptions
from spadework.errors import Fault, InputError, Source
from spadework.factors import SoilFactors, soil_factors
from spadework.pad import Pad
from spadework.readings import FloatArray
from spadework.site_build import build_options
from spadework.site_faults import schema_faults, syntax_fault
from spadework.site_lines import KeyPath, key_lines, nearest_line
from spadework.site_pad import pad_of
from spadework.site_positions import FeatureTable
from spadework.site_rules import rule_faults
from spadework.site_schema import (
    BoundaryTable,
    BreaklineTable,
    DatumTable,
    GoalTable,
    GroundTable,
    HoleTable,
    KeepOutTable,
    LevelsTable,
    PadTable,
    PositionsTable,
    ReadingsTable,
    SheetTable,
    SiteFile,
    SoilTable,
    StakesTable,
)
from spadework.site_where import ReachTable
from spadework.units import LengthUnit

__all__ = ["SITE_FILE", "Site", "load_site"]

SITE_FILE = "site.toml"
BIGGEST = 1_000_000  # bytes; a site file written by hand has a few thousand


@dataclass(frozen=True)
class Site:
    """A site file that holds no fault. Lengths are in metres, whatever they were written in.

    Parameters
    ----------
    file : Path
        The site file.
    name : str
        Name of the site; that of the folder where the file gives none.
    units : LengthUnit
        Unit of plain numbers and of everything printed.
    datum : DatumTable, optional
        Bench mark and its level.
    crs : str
        Coordinate reference system, empty where there is none.
    readings : tuple of ReadingsTable
        Files of readings, at least one.
    levels : LevelsTable
        Tolerance and adjustment.
    boundaries : tuple of BoundaryTable
        Outlines and setback; `boundary` is the first.
    keep_outs : tuple of KeepOutTable
        Places to keep clear of; each has a name.
    pad_table : PadTable, optional
        What the file says of the pad; `pad` is the pad itself.
    goal : GoalTable
        What is made least, and the limits.
    soil : SoilTable
        What the file says of the soil; `soil_factors` are the factors.
    stakes : StakesTable
        How stakes are set out.
    sheet : SheetTable
        How the sheets are printed.
    lines : mapping
        Line of each key.
    features : mapping of str to FeatureTable, optional
        What codes in the notes mean; None where the file has no table of them, so that notes are only notes.
    build : BuildOptions, optional
        What the file chooses about frame, materials, prices and crew.
    positions : PositionsTable
        How places measured from several sides are adjusted.
    ground : GroundTable
        How the ground is drawn through the shots.
    breaklines : tuple of BreaklineTable
        Lines along which the ground bends.
    holes : tuple of HoleTable
        Places without ground.
    reaches : tuple of ReachTable
        Points that the pad must not lie too far from.
    """

    file: Path
    name: str
    units: LengthUnit
    datum: DatumTable | None
    crs: str
    readings: tuple[ReadingsTable, ...]
    levels: LevelsTable
    boundaries: tuple[BoundaryTable, ...]
    keep_outs: tuple[KeepOutTable, ...]
    pad_table: PadTable | None
    goal: GoalTable
    soil: SoilTable
    stakes: StakesTable
    sheet: SheetTable = field(default_factory=SheetTable)
    lines: Mapping[KeyPath, int] = field(default_factory=dict, repr=False)
    features: Mapping[str, FeatureTable] | None = None
    build: BuildOptions | None = None
    ground: GroundTable = field(default_factory=GroundTable)
    positions: PositionsTable = field(default_factory=PositionsTable)
    breaklines: tuple[BreaklineTable, ...] = ()
    holes: tuple[HoleTable, ...] = ()
    reaches: tuple[ReachTable, ...] = ()

    @property
    def boundary(self) -> BoundaryTable | None:
        """The first table of the boundary, whose file and setback count for all."""
        return self.boundaries[0] if self.boundaries else None

    def boundary_key(self, number: int, key: str) -> tuple[str | int, ...]:
        """Return the path of a key of one table of the boundary."""
        return ("boundary", key) if ("boundary", 0) not in self.lines else ("boundary", number, key)

    @property
    def folder(self) -> Path:
        """Folder that the names of files are resolved against."""
        return self.file.parent

    def path_to(self, name: str) -> Path:
        """Return the path of a file that the site file names."""
        return self.folder / name

    @property
    def known_levels(self) -> dict[str, float]:
        """Levels that the site file gives: the datum, then the bench marks of its levels. [m]"""
        found = {} if self.datum is None else {self.datum.point: self.datum.level}
        return found | {name: mark.level for name, mark in self.levels.bench_marks.items()}

    @property
    def bench_sd(self) -> dict[str, float]:
        """Standard deviations of those that least squares does not hold. [m]"""
        found = {name: mark.sd for name, mark in self.levels.bench_marks.items() if mark.sd is not None}
        if self.datum is not None and self.datum.sd is not None:
            found[self.datum.point] = self.datum.sd
        return found

    def source(self, *path: str | int) -> Source:
        """Return where a key stands, for a fault that is found later.

        Parameters
        ----------
        *path : str or int
            Keys as they are written, and indices from 0: ``"keep-out", 0, "at"``.
        """
        return Source(str(self.file), nearest_line(self.lines, path))

    @property
    def pad(self) -> Pad:
        """The pad in its own frame.

        Raises
        ------
        InputError
            If the file has no table ``[pad]``, or its outline crosses itself or has no area.
        """
        return self.pad_drawn(None)

    def pad_drawn(self, drawn: FloatArray | None) -> Pad:
        """Return the pad, whose outline may come from a file.

        Parameters
        ----------
        drawn : array, shape (n, 2), optional
            East and north of the corners of the outline that ``[pad] file`` holds. [m]

        Raises
        ------
        InputError
            As for `pad`.
        """
        table = self.pad_table
        if table is None:
            raise InputError(
                Fault(
                    "the file has no table [pad]",
                    "a plan needs to know what is to be built",
                    'Add [pad] and below it size = ["3 m", "4 m"]',
                    self.source(),
                )
            )
        key = "corners" if table.corners is not None else "file" if table.notch is None else "notch"
        return pad_of(table, self.source("pad", key), drawn)

    @property
    def soil_factors(self) -> SoilFactors | None:
        """How the soil swells and shrinks; None where the file says nothing of it."""
        if self.soil.kind is not None:
            return soil_factors(self.soil.kind)
        swell, shrink = self.soil.swell, self.soil.shrink
        if swell is None or shrink is None:
            return None
        return SoilFactors.given(swell, shrink, source=f"given in {self.source('soil', 'swell')}")


def load_site(path: Path | str) -> Site:
    """Read a site file.

    Parameters
    ----------
    path : Path or str
        The file, or the folder that holds ``site.toml``.

    Returns
    -------
    Site
        The file's content, in metres.

    Raises
    ------
    InputError
        With every fault of the file and its line.
    """
    file = _find(Path(path))
    text = _text(file)
    try:
        written = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(syntax_fault(error, text, str(file))) from None
    lines = key_lines(text)
    faults: list[Fault] = []
    content: SiteFile | None = None
    try:
        content = SiteFile.model_validate(written, context={"units": _declared_units(written)})
    except ValidationError as error:
        faults.extend(schema_faults(error, lines, str(file)))
    faults.extend(rule_faults(written, lines, str(file), file.parent))
    if faults or content is None:
        raise InputError(sorted(faults, key=lambda fault: fault.source.line or 0))
    return Site(
        file=file,
        name=content.site.name or file.resolve().parent.name,
        units=content.site.units,
        datum=content.site.datum,
        crs=content.site.crs or "",
        readings=content.readings,
        levels=content.levels,
        positions=content.positions,
        boundaries=_several(content.boundary),
        reaches=content.reach,
        keep_outs=tuple(
            table if table.name else table.model_copy(update={"name": f"keep-out {number}"})
            for number, table in enumerate(content.keep_out, 1)
        ),
        pad_table=content.pad,
        goal=content.goal,
        ground=content.ground,
        breaklines=content.breakline,
        holes=content.hole,
        soil=content.soil,
        stakes=content.stakes,
        sheet=content.sheet,
        lines=lines,
        features=content.features,
        build=build_options(content.frame, content.materials, content.prices, content.crew, content.site.units),
    )


def _several(boundary: BoundaryTable | tuple[BoundaryTable, ...] | None) -> tuple[BoundaryTable, ...]:
    """Return the tables of the boundary."""
    if boundary is None:
        return ()
    return boundary if isinstance(boundary, tuple) else (boundary,)


def _declared_units(written: Mapping[str, Any]) -> LengthUnit | None:
    """Return the units that the file declares; None when they are missing or wrong, which is a fault of its own."""
    table = written.get("site")
    units = table.get("units") if isinstance(table, Mapping) else None
    return LengthUnit(units.strip().casefold()) if isinstance(units, str) and _is_unit(units) else None


def _is_unit(text: str) -> bool:
    """Say whether a text names a unit of a site file."""
    return text.strip().casefold() in {unit.value for unit in LengthUnit}


def _find(path: Path) -> Path:
    """Return the site file that a path means."""
    file = path / SITE_FILE if path.is_dir() else path
    if file.is_file():
        return file
    if path.is_dir():
        others = sorted(entry.name for entry in path.glob("*.toml"))
        remedy = f"Did you mean {path / others[0]}?" if others else "Make one with: spadework new DIR"
        raise InputError(Fault(f"the folder {path} holds no {SITE_FILE}", "a site is a folder with it", remedy))
    where = path.parent
    near = sorted(where.glob("*/" + SITE_FILE)) if where.is_dir() else []
    remedy = f"Did you mean {near[0].parent}?" if near else "Make a site with: spadework new DIR"
    raise InputError(Fault(f"{path} does not exist", "give a site file or its folder", remedy))


def _text(file: Path) -> str:
    """Return the text of the site file."""
    place = Source(str(file))
    if file.suffix.lower() != ".toml":
        raise InputError(
            Fault(
                f"{file.name} is no site file",
                "a site file is called site.toml and names the file of readings",
                "Put the readings beside a site file; spadework new DIR makes one to start from",
                place,
            )
        )
    if file.stat().st_size > BIGGEST:
        raise InputError(Fault("the file is too big for a site file", "it is a few lines written by hand", "", place))
    raw = file.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            Fault(
                f"byte {raw[error.start]:#04x} is no UTF-8 text",
                "a site file is plain text in UTF-8",
                "Save it again as UTF-8",
                Source(str(file), line),
            )
        ) from None
    return text.replace("\r\n", "\n")
