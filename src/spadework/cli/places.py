"""Places by ties, sights or a walk, adjusted: on paper and for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from spadework.cli.printing import print_json, print_list, print_table
from spadework.errors import Fault, InputError, Source

if TYPE_CHECKING:
    from spadework.positions import KnownPlace
    from spadework.positions.net_fit import PlaceFit
    from spadework.read import Recognised
    from spadework.readings_positions import RadialShots, SlopeWalk, TapeTies
    from spadework.shots import Shots
    from spadework.site_schema import ReadingsTable
    from spadework.units import LengthUnit

__all__ = ["given_places", "net_for_programs", "print_net", "show_places"]


def given_places(texts: tuple[str, ...], levels: dict[str, float], unit: LengthUnit) -> dict[str, KnownPlace]:
    """Return the points given as ``A=0,0``, with the levels given besides, by `name_key`.

    Raises
    ------
    InputError
        With every text that is no place.
    """
    from spadework.positions import KnownPlace
    from spadework.positions.places import name_key
    from spadework.units import parse_length

    found = {name_key(name): KnownPlace(level=level) for name, level in levels.items()}
    faults: list[Fault] = []
    for text in texts:
        name, equals, places = text.rpartition("=")
        parts = places.split(",")
        if not equals or not name.strip() or len(parts) != 2:
            faults.append(
                Fault(
                    f"--place {text!r} is no name and place",
                    'write it so: --place "A=0,8.40" (east, north)',
                    value=text,
                )
            )
            continue
        try:
            east, north = (parse_length(part.strip(), unit, source=Source("--place")) for part in parts)
        except InputError as error:
            faults.extend(error.faults)
            continue
        key = name_key(name)
        found[key] = KnownPlace(east, north, found.get(key, KnownPlace()).level)
    if faults:
        raise InputError(faults)
    return found


def _placed(
    reading: TapeTies | RadialShots | SlopeWalk, known: dict[str, KnownPlace], table: ReadingsTable, adjust: str
) -> tuple[Shots, tuple[str, ...]]:
    """Return the points of a file one after another, before they are adjusted together."""
    from spadework.levels.fit import instrument_precision
    from spadework.positions import reduce_radial, reduce_slope_walk, reduce_ties
    from spadework.readings_positions import SlopeWalk, TapeTies
    from spadework.survey_nets import walk_levels

    if isinstance(reading, TapeTies):
        return reduce_ties(reading, known)
    if isinstance(reading, SlopeWalk):
        leg_sd = table.sd or instrument_precision(table.instrument or "clinometer").reading_sd
        way = {"none": "none", "distance": "compass"}.get(adjust, "least-squares")
        shots, notices = reduce_slope_walk(reading, known, leg_sd=leg_sd, adjust=way, allow_misclosure=True)  # type: ignore[arg-type]
        return (walk_levels(reading, shots, known, leg_sd) if way == "least-squares" else shots), notices
    return reduce_radial(reading, known)


def show_places(
    recognised: Recognised,
    known: dict[str, KnownPlace],
    table: ReadingsTable,
    *,
    unit: LengthUnit,
    adjust: str,
    as_json: bool,
) -> None:
    """Place the points of one file, adjust them and print them with how good they are.

    Parameters
    ----------
    recognised : Recognised
        Ties, radial shots or a slope walk.
    known : dict of str to KnownPlace
        Known points, by `name_key`.
    table : ReadingsTable
        Instrument and standard deviation.
    unit : LengthUnit
        The user's unit.
    adjust : str
        ``"none"`` leaves each point where its first measurements put it; ``"distance"`` closes a walk by the compass
        rule; anything else adjusts all together by least squares.
    as_json : bool
        For programs.
    """
    from spadework.positions.net_fit import place_slip_sentences
    from spadework.readings_positions import SlopeWalk
    from spadework.survey_nets import fit_of_file

    reading = recognised.reading
    shots, notices = _placed(reading, known, table, adjust)  # type: ignore[arg-type]
    alone = adjust == "none" or (adjust == "distance" and isinstance(reading, SlopeWalk))
    fit = None if alone else fit_of_file(reading, shots, known, table)
    wrong = list(place_slip_sentences(fit, unit)) if fit is not None else []
    if as_json:
        content = {
            "read_as": str(recognised),
            "unit": "m",
            "points": [
                {"point": name, "east": east, "north": north, "level": level}
                for name, east, north, level in zip(
                    shots.point, *_coordinates(shots, fit), shots.level.tolist(), strict=True
                )
            ],
            "net": None if fit is None else net_for_programs(fit),
            "looks_wrong": wrong,
            "notices": [*recognised.notes, *notices],
        }
        print_json(content)
        return
    from spadework.units import unit_label

    click.echo(f"{getattr(reading, 'file', '') or 'standard input'}: {recognised}")
    click.echo(f"Lengths in {unit_label(unit)}.\n")
    if fit is None:
        _print_plain(shots, unit)
    else:
        print_net(fit, unit, levels=dict(zip(shots.point, shots.level.tolist(), strict=True)))
    print_list("What looks wrong:", wrong)
    print_list("To know:", (*recognised.notes, *notices))


def _coordinates(shots: Shots, fit: PlaceFit | None) -> tuple[list[float], list[float]]:
    """Return east and north of every shot, adjusted where the net has it."""
    from spadework.positions.places import name_key

    if fit is None:
        return shots.east.tolist(), shots.north.tolist()
    keys = {name_key(name) for name in fit.net.point}
    at = [
        fit.net.at(name) if name_key(name) in keys else (float(east), float(north))
        for name, east, north in zip(shots.point, shots.east, shots.north, strict=True)
    ]
    return [east for east, _ in at], [north for _, north in at]


def _number(metres: float, unit: LengthUnit, *, finer: int = 0) -> str:
    """Return a length without its unit, a dash-free blank where there is none."""
    from spadework.units import LengthUnit, format_length

    if metres != metres:  # noqa: PLR0124 - NaN
        return ""
    step = {LengthUnit.METRE: 3 + finer, LengthUnit.FOOT: 2 + finer, LengthUnit.FOOT_INCH: 16 if finer else 8}[unit]
    return format_length(metres, unit, step=step, with_unit=False)


def _print_plain(shots: Shots, unit: LengthUnit) -> None:
    """Print places that nothing adjusts."""
    rows = [
        (name, *(_number(float(value), unit) for value in place))
        for name, *place in zip(shots.point, shots.east, shots.north, shots.level, strict=True)
    ]
    print_table(("point", "east", "north", "level"), rows)


def print_net(fit: PlaceFit, unit: LengthUnit, *, levels: dict[str, float] | None = None) -> None:
    """Print an adjusted net of places: the points with their errors, the agreement, and every measurement.

    Parameters
    ----------
    fit : PlaceFit
        The net.
    unit : LengthUnit
        The user's unit.
    levels : dict of str to float, optional
        Levels of the points, where they have any. [m]
    """
    import math

    from spadework.positions.net_fit import measured_words, place_sentence

    net = fit.net
    rows = []
    for row, name in enumerate(net.point):
        ellipse = net.ellipse(row)
        east_sd, north_sd = (math.sqrt(max(float(net.widened[row, k, k]), 0.0)) for k in (0, 1))
        level = (levels or {}).get(name, math.nan)
        rows.append(
            (
                name,
                _number(float(net.east[row]), unit),
                _number(float(net.north[row]), unit),
                _number(level, unit),
                *(_number(value, unit, finer=1) for value in (east_sd, north_sd, ellipse.major, ellipse.minor)),
                f"{ellipse.bearing:.0f}°",
            )
        )
    print_table(("point", "east", "north", "level", "sd east", "sd north", "long axis", "short axis", "along"), rows)
    click.echo("The axes are those of the standard error ellipse, the longer one along that bearing.")
    click.echo(f"\nHow well the measurements agree:\n  - {place_sentence(fit)}")
    checked = [row for row in range(len(net.observations)) if net.solution.redundancy[row] > 1e-6]
    if checked:
        click.echo("\nMeasurements that others check (w: correction over its standard deviation; checked: 1 is all):")
        columns = ("line", "from", "to", "measured", "", "corr.", "w", "checked")
        print_table(columns, [measured_words(net, row, unit) for row in checked], text_columns=(1, 2, 3))


def net_for_programs(fit: PlaceFit) -> dict[str, Any]:
    """Return an adjusted net of places for programs: metres and degrees."""
    from spadework.write.nets_json import metres, place_net_document

    return place_net_document(fit, metres) or {}
