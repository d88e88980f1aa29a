"""The build sheet: what to buy, cut, fix and lay, in which order and for how long, as one HTML file.

Nothing is fetched: style and drawings stand in the file. Every word of the user's is escaped.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files

from spadework.build import BuildPlan
from spadework.build.edge import EdgePlan
from spadework.build.hours import Hours
from spadework.build.materials import Money
from spadework.build.words import small
from spadework.earthwork import Range
from spadework.plan import Plan
from spadework.units import format_length, format_volume
from spadework.write.canvas import svg_bytes
from spadework.write.cutting_drawing import cutting_page
from spadework.write.edge_drawing import edge_page
from spadework.write.markup import Markup, element, items, joined, table
from spadework.write.sheet_words import origin_words, sure_words

__all__ = ["build_sheet"]


def build_sheet(plan: Plan) -> bytes:
    """Return the build sheet as a UTF-8 HTML file.

    Parameters
    ----------
    plan : Plan
        The plan, with what is built.

    Raises
    ------
    ValueError
        If the plan does not say what is built.
    """
    if plan.build is None:
        raise ValueError("the plan does not say what is built")
    style = (files("spadework.write") / "templates" / "build-sheet.css").read_text(encoding="utf-8")
    head = element(
        "head",
        Markup('<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">'),
        element("title", f"{plan.name or 'Plan'}: build sheet"),
        element("style", Markup(style)),
    )
    body = element("body", joined(_body(plan, plan.build)))
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n".encode()


def _body(plan: Plan, build: BuildPlan) -> Iterator[Markup]:
    """Yield the parts of the page."""
    yield element("h1", plan.name or "Plan")
    yield element("p", ". ".join(f"{name}: {value}" for name, value in origin_words(plan)), class_="small")
    if plan.overrides:
        words = joined(element("p", override) for override in plan.overrides)
        yield element("section", words, class_="override", role="alert")
    yield element("h2", "Mind this first")
    yield items(
        "ul",
        (joined([caution.text, element("span", f"({caution.source})", class_="small")]) for caution in plan.cautions),
    )
    yield element("h2", "Order of work")
    steps = (
        joined([element("b", f"{step.title}. "), step.text, element("span", f"Check: {step.check}", class_="check")])
        for step in build.steps
    )
    yield element("section", items("ol", steps), id="steps")
    yield element("h2", "To buy")
    yield _materials(build)
    if build.money is not None:
        yield _money(build.money)
    if build.edge is not None and build.cutting is not None:
        yield element("h2", "The timber edge")
        page = edge_page(build.edge, formation=plan.earthwork.formation, title="", unit=plan.units)
        yield _drawing(svg_bytes(page, "edge"), "Each side of the timber edge from outside")
        yield element("h2", "The cutting list")
        page = cutting_page(build.cutting, title="", unit=plan.units)
        yield _drawing(svg_bytes(page, "cutting-list"), "Every timber with the pieces cut from it")
        yield _trenches(build.edge, plan)
        bars = [(f"{bar.side}, {bar.why}", format_length(bar.distance, plan.units)) for bar in build.edge.bars]
        lengths = [format_length(bar.length, plan.units) for bar in build.edge.bars]
        rows = [(words, at, length) for (words, at), length in zip(bars, lengths, strict=True)]
        yield table(("Bar", "From the side's first corner", "Length"), rows, caption="Where the bars go")
    yield element("h2", "Hours")
    yield _hours(build.hours)
    yield element("h2", "How sure the plan is")
    yield element("p", sure_words(plan))
    yield element("h2", "How the numbers were got")
    yield items("ul", plan.how)
    if plan.notices:
        yield element("h2", "To know")
        yield items("ul", plan.notices)


def _trenches(edge: EdgePlan, plan: Plan) -> Markup:
    """Return how deep the trench is along each side: below the string at the finish, and below the ground as dug."""
    unit = plan.units
    rows = []
    for side, trench in zip(edge.sides, edge.trenches, strict=True):
        for i in range(0, len(trench.distance), 2):
            start, end = (float(at) for at in trench.distance[i : i + 2])
            courses = int(side.courses_at((start + end) / 2))
            rows.append(
                (
                    side.name,
                    f"{format_length(start, unit)} to {format_length(end, unit)}",
                    f"{small(courses * edge.section.height, unit)} ({courses} course{'s' if courses > 1 else ''})",
                    f"{small(float(trench.depth[i]), unit)} to {small(float(trench.depth[i + 1]), unit)}",
                )
            )
    headings = ("Side", "From its first corner", "Foot below the string", "Below the dug ground")
    caption = (
        f"The trench, {small(edge.trenches[0].width, unit)} wide, {format_volume(edge.trench_volume, unit)} in all"
    )
    return table(headings, rows, caption=caption)


def _materials(build: BuildPlan) -> Markup:
    """Return the shopping list."""
    priced = build.money is not None
    headings = ["What", "How many", "For", *(["Price", "Cost"] if priced else [])]
    rows = []
    for line in build.materials:
        unit = "" if line.unit == "each" else f"\u00a0{line.unit.replace('3', '³').replace('2', '²')}"
        sums = ["" if amount is None else f"{amount:.2f}" for amount in (line.price, line.cost)] if priced else []
        rows.append((line.what, f"{line.quantity:g}{unit}", element("td", line.detail, class_="words"), *sums))
    return table(headings, rows)


def _money(money: Money) -> Markup:
    """Return the sums in words."""
    parts = [f"Materials with a price: {money.materials:.2f} {money.currency}".strip() + "."]
    if money.unpriced:
        parts.append(f"Not in the sum, as no price is given: {', '.join(money.unpriced)}.")
    if money.labour is not None:
        low, likely, high = money.labour
        parts.append(f"Work: {likely:.2f} {money.currency}".strip() + f" likely, from {low:.2f} to {high:.2f}.")
    return element("p", " ".join(parts))


def _hours(hours: Hours) -> Markup:
    """Return the hours of each task, and of all together."""
    total, days, people = hours.total, hours.days, hours.crew.people
    rows = [
        (
            task.name,
            f"{task.quantity:.3g} {'' if task.unit == '1' else task.unit.replace('3', '³').replace('2', '²')}".strip(),
            _spread(task.hours),
            f"{task.hours.likely:.1f}",
            f"{hours.share(task):.0%}",
            element("td", task.source, class_="words small"),
        )
        for task in hours.tasks
    ]
    crew = "one worker" if people == 1 else f"{people} workers"
    summary = (
        f"{total.likely:.0f} worker hours likely, {_spread(total)}; {days.likely:.1f} days for {crew} of "
        f"{hours.crew.hours_per_day:g} hours a day, {_spread(days)}. Norms differ widely: your own rates beat them."
    )
    words = [summary]
    if hours.machine is not None:
        machine = hours.machine
        hire = "" if machine.hire is None else f", {machine.hire:.2f} for the hire"
        wages = "" if machine.wages is None else f", {machine.wages:.2f} in wages"
        words.append(
            f"The digging with {machine.name}: {machine.hours:.1f} hours, {machine.days} days of hire{hire}; by hand "
            f"{machine.hand.likely:.1f} hours{wages}."
        )
    made = table(("Task", "How much", "Hours, from and to", "Likely", "Share", "Rate from"), rows)
    return joined([*(element("p", sentence) for sentence in words), made])


def _spread(found: Range) -> str:
    """Return a range in words."""
    return f"{found.low:.1f} to {found.high:.1f}"


def _drawing(svg: bytes, label: str) -> Markup:
    """Return a drawing for the inside of the page, moved sideways by itself where it is wider."""
    text = svg.decode("utf-8")
    text = re.sub(r"<metadata>.*?</metadata>", "", text[text.index("<svg") :], flags=re.DOTALL)
    text = re.sub(r'^(<svg[^>]*?) width="[^"]*"', r"\1", text, count=1)
    text = re.sub(r'^(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1)
    text = text.replace("<svg", '<svg role="img" aria-label="' + label + '"', 1)
    return element("figure", element("div", Markup(text), class_="wide", tabindex="0"))
