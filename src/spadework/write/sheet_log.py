"""The parts of the field sheet that are used in the yard: unit, way of measuring, today's reading, ticks, readings.

What is typed stays on the phone, and goes out as text that ``spadework check`` reads.
"""

from __future__ import annotations

import hashlib
import json
import math
from typing import Any

from spadework.levels.drops import LEVEL_LINE
from spadework.plan import Plan
from spadework.stakeout import Stake
from spadework.units import format_length
from spadework.write.markup import Markup, element, inline_script_text, joined, table
from spadework.write.sheet_lengths import inline, length, unit_word, word
from spadework.write.sheet_stakes import stake_name

__all__ = ["log_part", "sheet_settings", "stages", "today_part"]

UNITS = {"m": "metres", "ft": "decimal feet", "ft-in": "feet and inches"}


def stages(plan: Plan) -> list[tuple[str, str, float | None]]:
    """Return name, words and level of each stage at which the work is checked; the strip follows the ground. [m]"""
    level = plan.search.best.placement.formation(plan.pad)
    found: list[tuple[str, str, float | None]] = []
    if plan.pad.strip > 0:
        found.append(("strip", "after the strip", None))
    found.append(("formation", "formation, dug and filled", level))
    layers = plan.pad.build_up.layers
    for number, layer in enumerate(layers[:-1], 1):
        level += layer.depth
        found.append((f"layer {number}", f"top of layer {number}, {layer.material.replace('-', ' ')}", level))
    if layers:
        found.append(("finish", "finish", plan.search.best.placement.finish))
    return found


def first_mode(plan: Plan) -> str:
    """Return what the sheet opens for: a string where the yard was measured down from a line, else a rod."""
    return "string" if plan.bench is not None and plan.bench[0] == LEVEL_LINE else "rod"


def today_part(plan: Plan) -> Markup:
    """Return where the unit, the way of measuring and today's reading are chosen and typed."""
    unit, bench = plan.units, plan.bench
    finish = plan.search.best.placement.finish
    example = format_length(1.325 + (finish if bench is None else 0.0), unit, with_unit=False)
    if bench is None:
        asked = inline(["Height of instrument, HI, in the levels of this sheet [", unit_word(unit), "]"])
        rule = inline(["There is no bench mark on this plan. The rod must read HI less the level wanted."])
    else:
        asked = inline([f"Today's rod reading on {bench[0]} [", unit_word(unit), "]"])
        rule = inline(
            [
                f"{bench[0][:1].upper()}{bench[0][1:]} is at ",
                length(bench[1], unit),
                (
                    ". HI is that level plus the reading on it; the rod must then read HI less the level wanted. "
                    "Set up anew, read anew."
                ),
            ]
        )
    known = "" if plan.stakeout.hi is None else inline(["HI ", length(plan.stakeout.hi, unit)])
    string = inline(
        [
            (
                "Stretch a string or hold a water level at a known height, level over the whole pad. "
                "Every stake then says how far down from it to measure."
            )
        ]
    )
    over: list[tuple[str, str]] = [("finish", "the finish level")]
    if bench is not None:
        over.insert(0, ("bench", bench[0]))
    return joined(
        [
            _choice("unit", "Unit", list(UNITS.items()), unit.value),
            _choice(
                "mode",
                "You measure with",
                [("rod", "an instrument and a rod"), ("string", "a string or water level")],
                first_mode(plan),
            ),
            element(
                "div",
                element("p", rule),
                element("p", element("label", asked, for_="reading"), _box("reading", example), class_="ask"),
                class_="for-rod",
                **({} if first_mode(plan) == "rod" else {"hidden": "hidden"}),
            ),
            element(
                "div",
                element("p", string),
                element(
                    "p",
                    element(
                        "label",
                        inline(["The string is above the point chosen below by [", unit_word(unit), "]"]),
                        for_="height",
                    ),
                    _box("height", format_length(0.5, unit, with_unit=False)),
                    class_="ask",
                ),
                _choice("over", "Height counted from", over, over[0][0]),
                class_="for-string",
                **({} if first_mode(plan) == "string" else {"hidden": "hidden"}),
            ),
            element("p", known, id="hi", role="status"),
        ]
    )


def log_part(plan: Plan) -> Markup:
    """Return where stakes are ticked off and what was found is written, and what hands it out."""
    rows = [_log_row(number, stake, plan) for number, stake in enumerate(plan.stakeout.ordered())]
    options = joined(element("option", words, value=name) for name, words, _ in stages(plan))
    headings = ("Stake", "Set", word("Rod found", "Down, found"), "Note")
    return joined(
        [
            element(
                "p",
                "Tick each stake as it is set. When a stage is done, choose it and write what is read at each stake: "
                "all readings of one stage come from one set-up. What you write stays on this phone, through a reload, "
                "until you clear it.",
            ),
            element(
                "p",
                element("label", "Stage of these readings", for_="stage"),
                element("select", options, id="stage"),
                class_="ask",
            ),
            table(headings, rows),
            element("p", "", id="kept", role="status"),
            element(
                "div",
                element("p", element("label", "Readings as text, for spadework check", for_="export")),
                element("textarea", id="export", readonly="readonly", rows="8", spellcheck="false"),
                element(
                    "p",
                    element("button", "Save as a file", id="save", type="button"),
                    element("button", "Copy", id="copy", type="button"),
                    element("button", "Clear this sheet", id="clear", type="button"),
                ),
                class_="hand-out",
            ),
        ]
    )


def sheet_settings(plan: Plan) -> Markup:
    """Return what the script needs to know, as a JavaScript object that cannot end the script early."""
    settings: dict[str, Any] = {
        "unit": plan.units.value,
        "site": plan.name,
        "date": plan.date,
        "benchName": None if plan.bench is None else plan.bench[0],
        "bench": None if plan.bench is None else plan.bench[1],
        "hi": plan.stakeout.hi,
        "mode": first_mode(plan),
        "finish": plan.search.best.placement.finish,
        "stages": [{"name": name, "level": level} for name, _, level in stages(plan)],
        "stakes": [_stake_settings(stake) for stake in plan.stakeout.ordered()],
    }
    print_ = json.dumps(settings, sort_keys=True).encode("utf-8")
    settings["key"] = f"spadework {hashlib.sha256(print_).hexdigest()[:16]}"
    return inline_script_text(json.dumps(settings))


def _stake_settings(stake: Stake) -> dict[str, Any]:
    """Return name and stripped level of a stake; none for one that is not on the pad."""
    on_pad = stake.kind != "offset" and math.isfinite(stake.ground_level)
    return {"name": stake.name, "stripped": stake.stripped_level if on_pad else None}


def _log_row(number: int, stake: Stake, plan: Plan) -> tuple[Markup, ...]:
    """Return the row of one stake: a tick, a reading where it stands on the pad, and a note."""
    name = stake.name
    tick = element(
        "label", element("input", type="checkbox", id=f"set-{number}", aria_label=f"Stake {name} is set"), class_="tick"
    )
    found = Markup("")
    if stake.kind != "offset":
        found = joined(
            [
                element(
                    "input",
                    id=f"found-{number}",
                    class_="found",
                    inputmode="text",
                    autocomplete="off",
                    aria_label=f"Found at stake {name}",
                    aria_describedby=f"off-{number}",
                ),
                element("output", "", id=f"off-{number}", for_=f"found-{number}"),
            ]
        )
    note = element("input", id=f"note-{number}", class_="note", autocomplete="off", aria_label=f"Note on stake {name}")
    return stake_name(stake, plan), element("td", tick), element("td", found), element("td", note)


def _choice(name: str, legend: str, options: list[tuple[str, str]], chosen: str) -> Markup:
    """Return a set of radio buttons."""
    made = []
    for value, words in options:
        checked = {"checked": "checked"} if value == chosen else {}
        box = element("input", type="radio", name=name, value=value, id=f"{name}-{value}", **checked)
        made.append(element("label", box, element("span", words), for_=f"{name}-{value}"))
    return element("fieldset", element("legend", legend), *made, class_="choice")


def _box(name: str, example: str) -> Markup:
    """Return a box for a length."""
    return element("input", id=name, inputmode="text", autocomplete="off", aria_describedby="hi", placeholder=example)
