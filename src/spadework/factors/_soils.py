"""How soils change their volume, from the rows of the bulking table."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from spadework.errors import Source
from spadework.factors._rows import FactorRow, load_table, read_file, slug, unknown


@dataclass(frozen=True, slots=True)
class SoilFactors:
    """How a soil changes its volume, likely value and range, per volume in the bank.

    ``loose = bank (1 + swell)`` and ``compacted = bank (1 - shrink)``. Shrink is below zero for rock, which takes more
    room when rammed in place than it did in the bank.

    Parameters
    ----------
    kind : str
        Name of the soil.
    swell, swell_low, swell_high : float
        Growth when dug. [m³/m³]
    shrink, shrink_low, shrink_high : float
        Loss when compacted, against the bank. [m³/m³]
    source : str
        Tables that it rests on.
    """

    kind: str
    swell: float
    swell_low: float
    swell_high: float
    shrink: float
    shrink_low: float
    shrink_high: float
    source: str = ""

    def __post_init__(self) -> None:
        if not -1 < self.swell_low <= self.swell <= self.swell_high < math.inf:
            raise ValueError(
                f"swell of {self.kind}: {self.swell_low} <= {self.swell} <= {self.swell_high} does not hold"
            )
        if not -math.inf < self.shrink_low <= self.shrink <= self.shrink_high < 1:
            raise ValueError(
                f"shrink of {self.kind}: {self.shrink_low} <= {self.shrink} <= {self.shrink_high} does not hold"
            )

    @classmethod
    def given(cls, swell: float, shrink: float, *, source: str = "given by the user") -> SoilFactors:
        """Return the factors of a user's own soil, without a range."""
        return cls("own", swell, swell, swell, shrink, shrink, shrink, source)

    @property
    def loose_per_bank(self) -> float:
        """Loose volume of one volume in the bank: ``L = 1 + swell``. [m³/m³]"""
        return 1 + self.swell

    @property
    def compacted_per_bank(self) -> float:
        """Compacted volume of one volume in the bank: ``C = 1 - shrink``. [m³/m³]"""
        return 1 - self.shrink

    @property
    def load_factor(self) -> float:
        """Bank volume of one loose volume: ``1 / L``. [m³/m³]"""
        return 1 / self.loose_per_bank

    @property
    def voids(self) -> float:
        """Share of the loose volume that is the growth: ``swell / (1 + swell)``. [m³/m³]"""
        return self.swell / self.loose_per_bank


def soil_kinds() -> tuple[str, ...]:
    """Return the kinds of soil for which there are factors."""
    return tuple(str(kind["name"]) for kind in read_file("bulking")["kind"])


def _span(rows: list[FactorRow], quantity: str) -> tuple[float, float, float]:
    """Return likely, low and high of ``loose`` or ``compacted`` per bank for the rows of one kind of soil.

    The likely value is the mean of the government tables. The range is what they span; where they agree on one number
    it is the range of the guideline, which is widened to take the number in.
    """
    wanted = [row for row in rows if row.extra["quantity"] == quantity]
    government = [row for row in wanted if row.extra["table"] != "guideline"]
    values = [row.value for row in government or wanted]
    likely = math.fsum(values) / len(values)
    low, high = min(values), max(values)
    if low == high:
        low = min([low, *(row.low for row in wanted)])
        high = max([high, *(row.high for row in wanted)])
    return likely, low, high


@cache
def _soils() -> dict[str, SoilFactors]:
    rows = {row.name: row for row in load_table("bulking")}
    soils: dict[str, SoilFactors] = {}
    for kind in read_file("bulking")["kind"]:
        classes, aliases = kind["classes"], kind.get("aliases", [])
        used = [rows[f"{name}-{quantity}"] for name in classes for quantity in ("loose", "compacted")]
        loose, loose_low, loose_high = _span(used, "loose")
        compacted, compacted_low, compacted_high = _span(used, "compacted")
        sources = "; ".join(dict.fromkeys(f"{row.source}, {row.where} ({row.status})" for row in used))
        soil = SoilFactors(
            kind=str(kind["name"]),
            swell=round(loose - 1, 6),
            swell_low=round(loose_low - 1, 6),
            swell_high=round(loose_high - 1, 6),
            shrink=round(1 - compacted, 6),
            shrink_low=round(1 - compacted_high, 6),
            shrink_high=round(1 - compacted_low, 6),
            source=sources,
        )
        for name in (soil.kind, *aliases):
            if name in soils:
                raise ValueError(f"bulking.toml: the kind {name!r} stands there twice")
            soils[name] = soil
    return soils


def soil_factors(kind: str, *, source: Source | None = None) -> SoilFactors:
    """Return swell and shrink of a kind of soil, with their ranges.

    Parameters
    ----------
    kind : str
        ``loam``, ``clay``, ``sand``, ``gravelly``, ``rock`` and so on (`soil_kinds`).
    source : Source, optional
        Where the kind was written, for the error.

    Raises
    ------
    InputError
        If there are no factors for it. It says which kind is nearest, and which there are.
    """
    soils = _soils()
    wanted = slug(kind)
    if wanted not in soils:
        raise unknown(kind, "kind of soil", soil_kinds(), list(soils), source)
    return soils[wanted]
