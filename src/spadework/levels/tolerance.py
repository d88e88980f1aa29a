"""How far a level run may be out: rules of misclosure by name, or in the user's own words."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from spadework.errors import Fault, InputError, Source
from spadework.factors import DEFAULT_TOLERANCE, load_table
from spadework.levels.wording import did_you_mean
from spadework.units import FOOT

__all__ = ["DEFAULT_RULE", "Basis", "Tolerance", "tolerance_names", "tolerance_rule"]

Basis = Literal["set-ups", "km", "miles", "fixed"]

DEFAULT_RULE = DEFAULT_TOLERANCE
KILOMETRE = 1000.0
MILE = 5280 * FOOT

_UNITS = {"mm": 0.001, "cm": 0.01, "m": 1.0, "ft": FOOT, "in": FOOT / 12}
_BASES: dict[str, Basis] = {
    **dict.fromkeys(("n", "setups", "setup", "set-ups", "set-up"), "set-ups"),
    **dict.fromkeys(("km", "k", "d", "e"), "km"),
    **dict.fromkeys(("mi", "mile", "miles", "m"), "miles"),
}
_TABLE_BASES: dict[str, Basis] = {
    "sqrt-set-ups": "set-ups",
    "sqrt-km": "km",
    "sqrt-miles": "miles",
    "fixed": "fixed",
}
_SYMBOL: dict[Basis, str] = {"set-ups": "n", "km": "km", "miles": "miles", "fixed": ""}
_WORDS = re.compile(
    r"""^\s*(?P<amount>\d+(?:[.,]\d*)?|[.,]\d+)\s*(?P<unit>mm|cm|m|ft|in)
        (?:\s*[*x×·]?\s*(?:sqrt|√)\s*\(?\s*(?P<per>[a-z-]+)\s*\)?)?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)
_ADVICE = 'write "12 mm*sqrt(km)", "0.02 ft*sqrt(n)" with n the set-ups, "0.05 ft*sqrt(miles)" or "10 mm"'


@dataclass(frozen=True, slots=True)
class Tolerance:
    """A rule for the misclosure that is still allowed: ``coefficient * sqrt(size of the run)``.

    Parameters
    ----------
    name : str
        Name of the rule, or the user's own words.
    coefficient : float
        Allowed for a run of one set-up, one kilometre or one mile. [m]
    basis : str
        What the run is measured in: ``"set-ups"``, ``"km"``, ``"miles"``, or ``"fixed"`` for one amount in any case.
    ceiling : float
        Never more than this, however long the run. [m]
    words : str
        The rule as a person writes it: ``12 mm × √km``.
    source : str
        Where the rule comes from; ``given by the user`` for the user's own.
    """

    name: str
    coefficient: float
    basis: Basis
    ceiling: float = math.inf
    words: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.coefficient) and self.coefficient >= 0):
            raise ValueError(f"a tolerance is zero or more, not {self.coefficient}")

    @property
    def needs_distance(self) -> bool:
        """Whether the rule asks how long the run was."""
        return self.basis in {"km", "miles"}

    def allowed(self, setups: int, distance: float = math.nan) -> float:
        """Return the misclosure allowed for a run. [m]

        Parameters
        ----------
        setups : int
            Set-ups of the run.
        distance : float
            Length of the run. [m]

        Returns
        -------
        float
            NaN when the rule asks for a distance and there is none. [m]
        """
        size = {"set-ups": float(setups), "km": distance / KILOMETRE, "miles": distance / MILE, "fixed": 1.0}[
            self.basis
        ]
        return min(self.coefficient * math.sqrt(size), self.ceiling) if size >= 0 else math.nan

    def __str__(self) -> str:
        """Return the rule with its formula: ``construction (0.02 ft × √n, n set-ups)``."""
        words = self.words or self.name
        return words if words == self.name else f"{self.name} ({words})"


def tolerance_names() -> tuple[str, ...]:
    """Return the names of the rules in the table of tolerances, other names of the same rule with them."""
    return tuple(name for row in load_table("tolerances") for name in (row.name, *row.aliases))


def _in_words(amount: str, unit: str, basis: Basis) -> str:
    return f"{amount} {unit}" + (f" × √{_SYMBOL[basis]}" if basis != "fixed" else "")


def _from_words(text: str) -> Tolerance | None:
    match = _WORDS.match(text)
    if match is None:
        return None
    per = match["per"]
    basis: Basis | None = "fixed" if per is None else _BASES.get(per.lower())
    if basis is None:
        return None
    unit = match["unit"].lower()
    coefficient = float(match["amount"].replace(",", ".")) * _UNITS[unit]
    words = _in_words(match["amount"], unit, basis)
    return Tolerance(words, coefficient, basis, words=words, source="given by the user")


def _by_name(text: str) -> Tolerance | None:
    """Return the row of the table of tolerances; spaces, hyphens and capitals do not matter."""
    wanted = "-".join(text.lower().replace("_", " ").replace("-", " ").split())
    for row in load_table("tolerances"):
        if wanted == row.name or wanted in row.aliases:
            basis = _TABLE_BASES[str(row.extra["basis"])]
            unit = _UNITS[row.unit]
            most = row.extra.get("most")
            words = _in_words(f"{row.value:g}", row.unit, basis)
            return Tolerance(
                row.name,
                row.value * unit,
                basis,
                ceiling=float(str(most)) * unit if most is not None else math.inf,
                words=words if most is None else f"{words}, at most {most} {row.unit}",
                source=f"{row.source}; {row.where}; {row.status}",
            )
    return None


def tolerance_rule(text: str = DEFAULT_RULE, *, source: Source | None = None) -> Tolerance:
    """Return the rule of misclosure of that name, or the one that the words describe.

    Parameters
    ----------
    text : str
        A name from the table of tolerances, compared without regard to case, or words such as ``12 mm*sqrt(km)``,
        ``0.02 ft*sqrt(n)`` (n the number of set-ups), ``0.05 ft*sqrt(miles)`` or ``10 mm``.
    source : Source, optional
        Where the text was written, for the message.

    Returns
    -------
    Tolerance
        The rule.

    Raises
    ------
    InputError
        When it is neither; names the nearest rule.
    """
    rule = _by_name(text) or _from_words(text)
    if rule is None:
        nearest = did_you_mean(text, tolerance_names())
        raise InputError(
            Fault(
                what=f"the tolerance {text!r} is no rule of misclosure",
                rule=f"the rules by name are {', '.join(tolerance_names())}",
                remedy=f"{nearest} Or {_ADVICE}" if nearest else f"Give one of them, or {_ADVICE}",
                source=source or Source(),
                value=text,
            )
        )
    return rule
