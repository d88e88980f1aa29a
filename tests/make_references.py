"""Makes the tables of docs/references.md that list rows of the factor tables: ``python tests/make_references.py``."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path

from spadework.factors import load_table, soil_factors, soil_kinds
from spadework.levels import tolerance_rule

PAGE = Path(__file__).parents[1] / "docs" / "references.md"


def tolerance_table() -> str:
    """The rules for the misclosure, a row each."""
    rows = ["| name | allowed | source | how it was seen |", "|---|---|---|---|"]
    for row in load_table("tolerances"):
        words = str(tolerance_rule(row.name)).partition("(")[2].rstrip(")")
        rows.append(f"| `{row.name}` | {words} | {row.source}; {row.where} | {row.status} |")
    return "\n".join(rows)


def soil_table() -> str:
    """Swell and shrink of each kind of soil, a row each."""
    rows = ["| kind | swell (low to high) | shrink (low to high) |", "|---|---|---|"]
    for kind in soil_kinds():
        soil = soil_factors(kind)
        swell = f"{soil.swell:.2f} ({soil.swell_low:.2f} to {soil.swell_high:.2f})"
        shrink = f"{soil.shrink:.2f} ({soil.shrink_low:.2f} to {soil.shrink_high:.2f})"
        rows.append(f"| `{kind}` | {swell} | {shrink} |")
    return "\n".join(rows)


def rows_table(name: str) -> str:
    """The rows of a table with their range and source, a row each."""
    rows = ["| name | value | low to high | unit | source | how it was seen |", "|---|---|---|---|---|---|"]
    for row in load_table(name):
        numbers = f"{row.value:g} | {row.low:g} to {row.high:g} | {row.unit}"
        rows.append(f"| `{row.name}` | {numbers} | {row.source}; {row.where} | {row.status} |")
    return "\n".join(rows)


TABLES: dict[str, Callable[[], str]] = {"tolerances": tolerance_table, "soils": soil_table} | {
    name: partial(rows_table, name) for name in ("lumber", "rebar", "fixings", "lifts", "fabric", "stone", "rates")
}


def with_tables(text: str) -> str:
    """The page with each table made anew between its two marks."""
    for name, make in TABLES.items():
        mark = f"<!-- table: {name} -->"
        pattern = re.compile(f"{re.escape(mark)}.*?{re.escape(mark)}", flags=re.DOTALL)
        assert pattern.search(text), f"docs/references.md has no place for the table {name}"
        text = pattern.sub(lambda _, mark=mark, make=make: f"{mark}\n\n{make()}\n\n{mark}", text)
    return text


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
