"""The field sheet: one HTML file that works on a phone with no signal and prints on A4 or Letter.

Nothing is fetched: style, script and drawings stand in the file. Every word of the user's is escaped.
"""

from __future__ import annotations

import re
from importlib.resources import files
from string import Template

from spadework.plan import Plan
from spadework.units import format_barrow_loads
from spadework.write.canvas import svg_bytes
from spadework.write.drawing import pad_map, yard_map
from spadework.write.markup import Markup, element, items, joined
from spadework.write.sheet_lengths import inline, length, volume
from spadework.write.sheet_log import log_part, sheet_settings, today_part
from spadework.write.sheet_parts import depth_part, level_part, rod_part, soil_part
from spadework.write.sheet_stakes import setting_out_part, stake_part
from spadework.write.sheet_sure import sure_part, sure_rows, what_if_part
from spadework.write.sheet_words import barrow_of, bearing_name, origin_words, pad_words, unit_words

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
        "origin": _pairs(_origin(plan)),
        "overrides": _overrides(plan),
        "summary": _pairs(_summary(plan)),
        "cautions": _cautions(plan),
        "pad_drawing": _inline(svg_bytes(pad_map(plan), "pad"), "The pad with cut, fill, stakes and ties"),
        "today": today_part(plan),
        "log": log_part(plan),
        "stakes": stake_part(plan),
        "rods": rod_part(plan),
        "setting_out": setting_out_part(plan),
        "depths": depth_part(plan),
        "soil": soil_part(plan),
        "sure": joined([sure_part(plan), what_if_part(plan)]),
        "yard_drawing": _inline(svg_bytes(yard_map(plan), "yard"), "The yard with contours, boundary and keep-outs"),
        "how": _how(plan),
        "script": _script(plan),
    }
    return Template(_template("field-sheet.html")).substitute(parts).encode("utf-8")


def _template(name: str) -> str:
    """Return a file of the templates folder."""
    return (files("spadework.write") / "templates" / name).read_text(encoding="utf-8")


def _origin(plan: Plan) -> list[tuple[str, str]]:
    """Return where the sheet comes from; the unit in words changes with the one that is chosen."""
    marked = element("span", unit_words(plan), class_="unitwords")
    return [(name, marked if name == "Units" else value) for name, value in origin_words(plan)]


def _summary(plan: Plan) -> list[tuple[str, str]]:
    """Return the figures that matter, each in whatever unit is chosen."""
    unit, placement = plan.units, plan.search.best.placement
    along, across = (length(float(side), unit) for side in plan.pad.sides[:2])
    size = inline([along, " by ", across]) if plan.pad.is_rectangle else pad_words(plan)
    rows: list[tuple[str, str]] = [
        ("Pad", size),
        (bearing_name(plan), f"{placement.bearing % 360:.1f}°"),
        ("Front", plan.pad.front),
        ("Finish level", length(placement.finish, unit)),
        ("Formation level", length(placement.formation(plan.pad), unit)),
        ("Strip", length(plan.pad.strip, unit)),
        ("Cut after strip", volume(plan.earthwork.cut, unit)),
        ("Fill", volume(plan.earthwork.fill, unit)),
        *sure_rows(plan),
        ("Cut, in barrows", _loads(plan)),
    ]
    return [row for row in rows if (row[0] != "Strip" or plan.pad.strip > 0) and row[1]]


def _pairs(rows: list[tuple[str, str]]) -> Markup:
    """Return names and values as a description list."""
    return element("dl", joined(element("div", element("dt", name), element("dd", value)) for name, value in rows))


def _loads(plan: Plan) -> str:
    """Return the cut in barrow loads."""
    return format_barrow_loads(plan.soil.cut_loose.likely, barrow_of(plan))


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
    """Return the script with its settings."""
    return Markup(f"const SHEET = {sheet_settings(plan)};\n{_template('field-sheet.js')}")
