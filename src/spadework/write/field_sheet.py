"""The field sheet: one HTML file that works on a phone with no signal and prints on A4 or Letter.

Nothing is fetched: style, script and drawings stand in the file. Every word of the user's is escaped.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from string import Template

from spadework.factors import container_volume
from spadework.plan import Plan
from spadework.units import format_barrow_loads
from spadework.write.drawing import pad_map, svg_bytes, yard_map
from spadework.write.markup import Markup, element, items, joined
from spadework.write.sheet_parts import (
    depth_part,
    level_part,
    rod_part,
    setting_out_part,
    soil_part,
    stake_part,
)
from spadework.write.sheet_words import origin_words, summary_rows

__all__ = ["field_sheet"]


def field_sheet(plan: Plan) -> bytes:
    """Return the field sheet as a UTF-8 HTML file.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    parts = {
        "title": element("title", f"{plan.name or 'Plan'}: field sheet"),
        "style": Markup(_template("field-sheet.css")),
        "name": element("h1", plan.name or "Plan"),
        "origin": _pairs(origin_words(plan)),
        "overrides": _overrides(plan),
        "summary": _pairs([*summary_rows(plan), ("Cut, in barrows", _loads(plan))]),
        "cautions": _cautions(plan),
        "pad_drawing": _inline(svg_bytes(pad_map(plan), "pad"), "The pad with cut, fill, stakes and ties"),
        "stakes": stake_part(plan),
        "rods": rod_part(plan),
        "setting_out": setting_out_part(plan),
        "depths": depth_part(plan),
        "soil": soil_part(plan),
        "yard_drawing": _inline(svg_bytes(yard_map(plan), "yard"), "The yard with contours, boundary and keep-outs"),
        "how": _how(plan),
        "script": _script(plan),
    }
    return Template(_template("field-sheet.html")).substitute(parts).encode("utf-8")


def _template(name: str) -> str:
    """Return a file of the templates folder."""
    return (files("spadework.write") / "templates" / name).read_text(encoding="utf-8")


def _pairs(rows: list[tuple[str, str]]) -> Markup:
    """Return names and values as a description list."""
    return element("dl", joined(element("div", element("dt", name), element("dd", value)) for name, value in rows))


def _loads(plan: Plan) -> str:
    """Return the cut in barrow loads."""
    return format_barrow_loads(plan.soil.cut_loose.likely, container_volume())


def _overrides(plan: Plan) -> Markup:
    """Return the rules that the user set aside, in a frame of their own."""
    if not plan.overrides:
        return Markup("")
    return element("section", joined(element("p", words) for words in plan.overrides), class_="override", role="alert")


def _cautions(plan: Plan) -> Markup:
    """Return the cautions, each with its source."""
    return items(
        "ul",
        (joined([caution.text, element("span", f"({caution.source})", class_="small")]) for caution in plan.cautions),
    )


def _how(plan: Plan) -> Markup:
    """Return how the numbers were got and what the user should know."""
    parts = [items("ul", plan.how), level_part(plan)]
    if plan.notices:
        parts += [element("h3", "To know"), items("ul", plan.notices)]
    return joined(parts)


def _inline(svg: bytes, label: str) -> Markup:
    """Return a drawing for the inside of a page: as wide as the page, without names that another drawing has too."""
    text = svg.decode("utf-8")
    text = text[text.index("<svg") :]
    used = set(re.findall(r"""(?:url\(#|href="#)([^)"]+)""", text))
    text = re.sub(r' id="([^"]*)"', lambda found: found[0] if found[1] in used else "", text)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    head = element("svg", role="img", aria_label=label)[: -len("></svg>")]
    text = re.sub(r'^<svg((?: [\w:]+="[^"]*")*?) width="[^"]*"', rf"{head}\1", text, count=1)
    text = re.sub(r'^(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1)
    return Markup(re.sub(r'^(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1))


def _script(plan: Plan) -> Markup:
    """Return the script with its settings; what would end the script early is written so that it cannot."""
    settings = {
        "unit": plan.units.value,
        "bench": None if plan.bench is None else plan.bench[1],
        "hi": plan.stakeout.hi,
    }
    written = json.dumps(settings).replace("<", "\\u003c")
    return Markup(f"const SHEET = {written};\n{_template('field-sheet.js')}")
