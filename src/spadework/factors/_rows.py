"""Read the tables: rows with a value, a range and a source, asked for by name."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from spadework.errors import Fault, InputError, Source

TABLES = (
    "bulking",
    "densities",
    "tolerances",
    "containers",
    "lumber",
    "stock",
    "rebar",
    "fixings",
    "lifts",
    "fabric",
    "stone",
    "rates",
    "instruments",
    "check",
)
DEFAULT_TOLERANCE = "construction"
DEFAULT_BARROW = "barrow"

_CUBIC_FOOT = 0.3048**3
_POUND = 0.45359237
_REQUIRED = ("name", "value", "unit", "low", "high", "source", "where", "status")
_CUBIC_METRES = {"ft3": _CUBIC_FOOT, "m3": 1.0, "L": 0.001}
_KILOGRAMS_PER_CUBIC_METRE = {"lb/ft3": _POUND / _CUBIC_FOOT, "kg/m3": 1.0}


@dataclass(frozen=True, slots=True)
class FactorRow:
    """One row of a table.

    Parameters
    ----------
    name : str
        What a person types to ask for it.
    value, low, high : float
        The number to use and the range around it, in `unit`. Where the source gives one number, low and high repeat
        it; where it gives a range only, the value is its middle.
    unit : str
        Unit of the three.
    source : str
        Title and edition of the source.
    where : str
        Place in the source.
    status : str
        How it was got: read in the source, read where it is quoted, from memory, or common practice.
    extra : mapping
        What only this table has.
    """

    name: str
    value: float
    unit: str
    low: float
    high: float
    source: str
    where: str
    status: str
    extra: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def aliases(self) -> tuple[str, ...]:
        """Other names by which the row can be asked for."""
        names = self.extra.get("aliases", ())
        return tuple(names) if isinstance(names, list | tuple) else ()


@cache
def load_table(name: str) -> tuple[FactorRow, ...]:
    """Return the rows of a table in the order of its file.

    Parameters
    ----------
    name : str
        One of `TABLES`.

    Raises
    ------
    ValueError
        If a row lacks something, its value is outside its range, or a name comes twice: the table is then at fault,
        not its user.
    """
    rows: list[FactorRow] = []
    taken: set[str] = set()
    for record in read_file(name)["row"]:
        missing = [key for key in _REQUIRED if record.get(key) in {None, ""}]
        if missing:
            raise ValueError(f"{name}.toml: row {record.get('name', len(rows) + 1)!r} lacks {', '.join(missing)}")
        extra = {key: value for key, value in record.items() if key not in _REQUIRED}
        row = FactorRow(**{key: record[key] for key in _REQUIRED}, extra=MappingProxyType(extra))
        if not row.low <= row.value <= row.high:
            raise ValueError(f"{name}.toml: {row.name!r} has {row.value} outside {row.low} to {row.high}")
        names = {row.name, *row.aliases}
        if names & taken:
            raise ValueError(f"{name}.toml: {', '.join(sorted(names & taken))} stands there twice")
        taken |= names
        rows.append(row)
    return tuple(rows)


@cache
def read_file(name: str) -> dict[str, list[dict[str, Any]]]:
    """Return what stands in a table's file."""
    if name not in TABLES:
        raise ValueError(f"no table {name!r}; there are {', '.join(TABLES)}")
    text = resources.files("spadework.factors").joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def slug(name: str) -> str:
    """Return a name as the tables write it: small letters, hyphens between words."""
    return "-".join(name.lower().replace("_", " ").replace("-", " ").split())


def unknown(asked: str, noun: str, names: Sequence[str], aliases: Sequence[str], source: Source | None) -> InputError:
    """Return the error of a name that is in no table, with the nearest one and all there are."""
    near = difflib.get_close_matches(slug(asked), [*names, *aliases], n=1)
    question = f"did you mean {near[0]}? " if near else ""
    what = f"“{asked}” is not a known {noun}"
    remedy = f"{question}Known are {', '.join(names)}"
    return InputError(Fault(what, "", remedy, source or Source(), asked))


def factor_row(table: str, name: str, *, source: Source | None = None) -> FactorRow:
    """Return one row by its name or another name it has; spaces, hyphens and capitals do not matter.

    Raises
    ------
    InputError
        If there is no such row. It says which is nearest, and which there are.
    """
    wanted = slug(name)
    rows = load_table(table)
    for row in rows:
        if wanted == row.name or wanted in row.aliases:
            return row
    aliases = [alias for row in rows for alias in row.aliases]
    raise unknown(name, f"row of {table}", [row.name for row in rows], aliases, source)


def density(material: str, *, source: Source | None = None) -> float:
    """Return the density of a row of ``densities.toml``. [kg/m³]"""
    row = factor_row("densities", material, source=source)
    return row.value * _KILOGRAMS_PER_CUBIC_METRE[row.unit]


def container_volume(name: str = DEFAULT_BARROW, *, source: Source | None = None) -> float:
    """Return how much loose soil a row of ``containers.toml`` holds. [m³]"""
    row = factor_row("containers", name, source=source)
    return row.value * _CUBIC_METRES[row.unit]
