"""A file with axes of its own, laid over the others by common points."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spadework.adjust.slips import one_question, pen_reasons
from spadework.errors import Fault, InputError
from spadework.positions import KnownPlace, PlaneFit, fit_positions
from spadework.positions.fit_slips import FitSlip, find_fit_slips
from spadework.positions.places import name_key
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.site import Site
from spadework.survey_levels import SurveyPart
from spadework.units import FOOT, LengthUnit, format_length

__all__ = ["fit_levels", "fit_part"]

MOST_SHOWN = 12
USUAL = 0.02
"""How sure the place of a common point is, where nothing says it: common practice, no source. [m]"""
STEP = {LengthUnit.METRE: 0.01, LengthUnit.FOOT: 0.01 * FOOT, LengthUnit.FOOT_INCH: FOOT / 12 / 8}
"""To what coordinates are usually written: common practice, no source. [m]"""
POOR_LEVEL = 0.03
"""Common levels that differ by more than this after the shift are told. [m]"""


def fit_part(site: Site, part: SurveyPart, known: Mapping[str, KnownPlace]) -> SurveyPart:
    """Return a file with its positions fitted to the known ones of the same names, and the residuals in words.

    Parameters
    ----------
    site : Site
        For the units of the words.
    part : SurveyPart
        Its shots are in axes of their own.
    known : mapping of str to KnownPlace
        The other files' points.

    Raises
    ------
    InputError
        When the common points are too few, or east and north look swapped.
    """
    shots = part.shots
    if shots is None:
        return part
    rows = []
    seen: set[str] = set()
    for row, name in enumerate(shots.point):
        key = name_key(name)
        if key in seen or key not in known or not known[key].placed or not math.isfinite(shots.east[row]):
            continue
        seen.add(key)
        rows.append(row)
    first = np.column_stack([shots.east[rows], shots.north[rows]])
    second = np.array([known[name_key(shots.point[row])][:2] for row in rows], dtype=np.float64)
    turn = part.table.fit != "shift"
    place = next((number for number, table in enumerate(site.readings) if table is part.table), 0)
    source = site.source("readings", place)
    sd = _common_sd(shots, rows, known)
    scale = part.table.fit == "turn-scale"
    fit = fit_positions(first, second, turn=turn, scale=scale, sd=sd, source=source)
    if fit.looks_mirrored:
        what = f"the common points of {part.file} fit {fit.rms:.2f} m, and {fit.mirrored_rms:.2f} m once mirrored"
        rule = "east grows to the right of north"
        raise InputError(Fault(what, rule, f"are east and north swapped in {part.file}? Correct its headings", source))
    east, north = fit.apply(shots.east, shots.north)
    own = np.full(len(shots), np.nan) if shots.position_sd is None else shots.position_sd
    own = np.where(np.isfinite(own), own, fit.sd)
    by_fit = fit.position_sd(shots.east, shots.north)
    spread = np.hypot(own, np.where(np.isfinite(by_fit), by_fit, 0.0))
    known_spread = spread if np.isfinite(spread).any() else None
    moved = replace(shots, east=east, north=north, position_sd=known_spread)
    names = [shots.point[row] for row in rows]
    sentences, notices = _said(site, part.file, names, fit)
    slips = find_fit_slips(first, second, sd, turn=turn, scale=scale, step=STEP[site.units])
    notices += [_asked(site, part.file, names, slips)] if slips else []
    return replace(
        part,
        shots=_once(moved, known),
        sentences=(*part.sentences, *sentences),
        notices=(*part.notices, *notices),
    )


def fit_levels(site: Site, part: SurveyPart, known: Mapping[str, KnownPlace]) -> SurveyPart:
    """Return a file with its levels shifted onto those of the points that other files levelled too.

    The shift is the mean of the differences, the least-squares answer for one unknown; each residual is said.
    """
    shots = part.shots
    if shots is None:
        return part
    common: dict[str, tuple[str, float]] = {}
    for row, name in enumerate(shots.point):
        place = known.get(name_key(name))
        if place is not None and place.levelled and math.isfinite(shots.level[row]):
            common.setdefault(name_key(name), (name, place.level - float(shots.level[row])))
    shift = float(np.mean([difference for _, difference in common.values()]))
    off = sorted(((name, difference - shift) for name, difference in common.values()), key=lambda each: -abs(each[1]))
    unit = site.units
    residuals = ", ".join(f"{name} {format_length(value, unit, sign=True)}" for name, value in off[:MOST_SHOWN])
    moved = format_length(shift, unit, sign=True)
    text = f"Levels of {part.file} moved by {moved} on {len(common)} common points; residuals {residuals}."
    notices = [f"Nothing checks the datum of {part.file}: a further common level would."] if len(common) == 1 else []
    if abs(off[0][1]) > POOR_LEVEL:
        notices.append(f"{off[0][0]} of {part.file} fits worst in level: is it the same point in both files?")
    moved_shots = replace(shots, level=shots.level + shift)
    return replace(
        part,
        shots=moved_shots if part.table.fit is not None else _once(moved_shots, known),
        sentences=(*part.sentences, text),
        notices=(*part.notices, *notices),
    )


def _once(shots: Shots, known: Mapping[str, KnownPlace]) -> Shots:
    """Return shots without those that the other files have already: a common point stands once, as it was known before.

    One that only this file levelled stays, at the place where the others have it.
    """
    east, north = shots.east.copy(), shots.north.copy()
    kept = []
    for row, name in enumerate(shots.point):
        place = known.get(name_key(name))
        if place is None or not place.placed:
            kept.append(row)
        elif math.isfinite(shots.level[row]) and not place.levelled:
            east[row], north[row] = place.east, place.north
            kept.append(row)
    return replace(shots, east=east, north=north).take(kept)


def _said(site: Site, file: str, names: list[str], fit: PlaneFit) -> tuple[list[str], list[str]]:
    """Return how a file was fitted, and what looks wrong about it."""
    away = np.hypot(fit.residuals[:, 0], fit.residuals[:, 1])
    order = np.argsort(-away)
    shown = [f"{names[row]} {format_length(float(away[row]), site.units)}" for row in order[:MOST_SHOWN].tolist()]
    errors = {name: fit.standard_error(name) for name in fit.free}
    known = math.isfinite(fit.sd)
    scale = f", scale {fit.scale:.6f}" if "scale" in fit.free else ""
    scale += f" ± {errors['scale']:.6f}" if scale and known else ""
    turn = f"{fit.turn % 360.0:.3f}°" + (f" ± {errors['turn']:.3f}°" if known and "turn" in fit.free else "")
    how = f"turned {turn}{scale}" if "turn" in fit.free else f"shifted{scale}"
    if known:
        middle = max(errors["east"], errors["north"])
        how += f", their middle sure to {format_length(middle, site.units)} (standard errors)"
    text = f"{file} fitted on {len(names)} common points: {how}; residuals {', '.join(shown)}."
    notices = []
    if math.isnan(fit.sd):
        notices.append(f"Nothing checks the fit of {file}: a further common point would.")
    return [text], notices


def _common_sd(shots: Shots, rows: list[int], known: Mapping[str, KnownPlace]) -> FloatArray:
    """Return how sure each common point is, by both surveys together; as such points usually are where neither says."""
    own = np.full(len(rows), np.nan) if shots.position_sd is None else shots.position_sd[rows]
    other = np.array([known[name_key(shots.point[row])].place_sd for row in rows])
    both: FloatArray = np.hypot(np.nan_to_num(own), np.nan_to_num(other))
    return np.where(both > 0, both, USUAL)


def _asked(site: Site, file: str, names: list[str], slips: tuple[FitSlip, ...]) -> str:
    """Return the question about the common point that is probably wrong."""
    return one_question([_question(site, file, names, slip) for slip in slips])


def _question(site: Site, file: str, names: list[str], slip: FitSlip) -> str:
    name, unit = names[slip.point], site.units
    if slip.kind == "columns":
        if slip.other >= 0:
            return f"{file}: do {name} and {names[slip.other]} bear each other's names?"
        return f"{file}: are east and north of {name} in each other's column?"
    head = f"{name} of {file} lies {format_length(slip.off, unit)} from where the other common points put it: "
    if slip.kind == "other":
        return f"{head}is it the same point in both files?"
    axis = ("east", "north")[slip.axis]
    was, meant = (format_length(value, unit) for value in (slip.was, slip.meant))
    why = {**pen_reasons(unit), "minus": "a minus lost or too many"}[slip.kind]
    return f"{head}its {axis} is {was}, did you mean {meant} ({why})?"
