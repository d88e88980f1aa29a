"""Rules of a site file that no single key can break: what excludes what, what needs what, and files that must be there.

They look at the values as they were written, so that they are checked although another value is wrong.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from spadework.errors import Fault, InputError, Source
from spadework.factors import soil_factors
from spadework.levels.tolerance import tolerance_rule
from spadework.site_bank_rules import bank_faults
from spadework.site_faults import key_text
from spadework.site_lines import KeyPath, nearest_line
from spadework.site_values import nearest, shown

__all__ = ["rule_faults"]

Written = Mapping[str, Any]

# Keys of a readings table that only one way of measuring has a use for.
TAPED = ("string-line", "slope-walk", "radial", "ties")
BY_LABEL = ("level-book", "rod-list", "points")
ONLY_FOR = {
    "line-level": ("drop-grid", "string-line"),
    "origin": ("drop-grid", "string-line", "slope-walk"),
    "bearing": ("drop-grid", "string-line", "slope-walk"),
    "order": ("points",),
    "vertical-unit": ("raster", "cloud"),
    "rod-length": ("level-book", "rod-list"),
    "baseline": BY_LABEL,
    "grid": BY_LABEL,
    "strings": ("string-line",),
    "zero": ("radial",),
    "stadia": ("radial", "level-book"),
    "peg-test": ("level-book",),
    "curvature": ("level-book",),
    "side": ("ties",),
    "tape": TAPED,
    "take-heights": ("track",),
    "spacing": ("cloud",),
}


def rule_faults(written: Written, lines: Mapping[KeyPath, int], file: str, folder: Path) -> Iterator[Fault]:
    """Yield a fault for each rule between keys that the file breaks.

    Parameters
    ----------
    written : mapping
        The file as the parser of the standard library gives it.
    lines : mapping
        Line of each key.
    file : str
        Name of the site file.
    folder : Path
        Folder that names of files are resolved against.
    """

    def source(path: KeyPath) -> Source:
        return Source(file, nearest_line(lines, path))

    yield from _readings_faults(written, source, folder)
    yield from _outline_faults(written, source, folder)
    yield from _pad_faults(written, source, folder)
    yield from _named_row_faults(written, source)
    yield from bank_faults(written, source)


def _table(written: Written, *path: str) -> Written:
    """Return a table as written, empty where it is missing or is no table."""
    for key in path:
        inner = written.get(key)
        written = inner if isinstance(inner, Mapping) else {}
    return written


def _tables(written: Written, key: str) -> Iterator[tuple[KeyPath, Written]]:
    """Yield path and content of each table of an array of tables."""
    found = written.get(key)
    for number, table in enumerate(found if isinstance(found, list) else ()):
        if isinstance(table, Mapping):
            yield (key, number), table


Where = Callable[[KeyPath], Source]


def _readings_faults(written: Written, source: Where, folder: Path) -> Iterator[Fault]:
    """Check that there are readings, that their files are there, and that each key suits the kind."""
    if not written.get("readings"):
        yield Fault(
            "the file names no readings",
            "a site needs at least one table [[readings]]",
            'Add [[readings]] and below it file = "shots.csv" (or file = "-" to paste them)',
            source(()),
        )
    pasted: list[KeyPath] = []
    for path, table in _tables(written, "readings"):
        if table.get("file") == "-":
            pasted.append(path)
        else:
            yield from _file_faults(table, path, source, folder)
        kind = table.get("kind")
        for key, kinds in ONLY_FOR.items():
            if key in table and isinstance(kind, str) and kind not in kinds:
                yield Fault(
                    f"{key_text((*path, key))} has no meaning for {shown(kind)}",
                    f"it belongs to {' and '.join(kinds)}",
                    "Take it out, or correct kind",
                    source((*path, key)),
                )
    for path in pasted[1:]:
        yield Fault(
            f"{key_text((*path, 'file'))} reads standard input a second time",
            "only one table of readings can be pasted",
            "Save the other to a file",
            source((*path, "file")),
        )


def _file_faults(table: Written, path: KeyPath, source: Where, folder: Path) -> Iterator[Fault]:
    """Check that the file which a table names is there."""
    name = table.get("file")
    if not isinstance(name, str) or not name.strip():
        return
    wanted = folder / name.strip()
    if wanted.is_file():
        return
    where = wanted.parent
    others = sorted(entry.name for entry in where.iterdir() if entry.is_file()) if where.is_dir() else []
    near = nearest(wanted.name, others)
    what = "is a folder" if wanted.is_dir() else "does not exist"
    yield Fault(
        f"{key_text((*path, 'file'))} = {shown(name)}: {wanted} {what}",
        "files are looked for beside the site file",
        near[:1].upper() + near[1:] if near else f"The folder holds {', '.join(others[:8])}" if others else "",
        source((*path, "file")),
    )


def _outline_faults(written: Written, source: Where, folder: Path) -> Iterator[Fault]:
    """Check that the boundary and each keep-out is drawn in one way only."""
    boundaries = list(_boundaries(written))
    for path, boundary in boundaries:
        yield from _one_way(boundary, path, ("points", "corners", "file"), source, needed=len(boundaries) > 1)
        yield from _file_faults(boundary, path, source, folder)
        holes = boundary.get("holes")
        for number, hole in enumerate(holes if isinstance(holes, list) else ()):
            if isinstance(hole, list) and len(hole) < 3:
                what = f"{key_text((*path, 'holes', number))} = {shown(hole)} is too short"
                yield Fault(what, "a hole has 3 corners at least", "Name them all in order", source((*path, "holes")))
    for path, table in _tables(written, "keep-out"):
        yield from _keep_out_faults(table, path, source, folder)
    ground = _table(written, "ground")
    yield from _one_way(ground, ("ground",), ("points", "corners", "file"), source, needed=False)
    yield from _file_faults(ground, ("ground",), source, folder)
    for path, table in (*_tables(written, "hole"), *_tables(written, "breakline")):
        yield from _one_way(table, path, ("points", "corners", "file"), source)
        yield from _file_faults(table, path, source, folder)
    lines = [(path, table) for path, table in _tables(written, "keep-out") if table.get("line") is True]
    areas = [(path, table) for path, table in _tables(written, "keep-out") if table.get("line") is not True]
    for path, table in (*boundaries, (("ground",), ground), *areas, *_tables(written, "hole")):
        yield from _too_few_corners(table, path, source)
        yield from _corner_twice(table, path, source)
    for path, table in (*_tables(written, "breakline"), *lines):
        for key in ("points", "corners"):
            places = table.get(key)
            if isinstance(places, list) and len(places) < 2:
                what = f"{key_text((*path, key))} = {shown(places)} is too short"
                yield Fault(what, "a line has two places at least", "Name them in order", source((*path, key)))


def _boundaries(written: Written) -> Iterator[tuple[KeyPath, Written]]:
    """Yield path and content of each table of the boundary, however many there are."""
    if isinstance(written.get("boundary"), list):
        yield from _tables(written, "boundary")
    else:
        yield ("boundary",), _table(written, "boundary")


def _keep_out_faults(table: Written, path: KeyPath, source: Where, folder: Path) -> Iterator[Fault]:
    """Check that a keep-out is drawn in one way only, and has the distance that belongs to it."""
    yield from _one_way(table, path, ("at", "points", "corners", "file", "code"), source)
    yield from _file_faults(table, path, source, folder)
    if "at" in table and "radius" not in table:
        yield Fault(f"{key_text(path)} has a middle but no radius", "at needs radius", source=source((*path, "at")))
    if "code" in table and "radius" not in table and table.get("line") is not True:
        rule = "around each shot it needs radius; through the shots in their order, line = true"
        yield Fault(f"{key_text(path)} has a code but no radius", rule, source=source((*path, "code")))
    if "radius" in table and not {"at", "code"} & table.keys():
        yield Fault(
            f"{key_text(path)} has a radius but no middle",
            "radius belongs to at or to code",
            "For an outline give clearance instead",
            source((*path, "radius")),
        )
    if table.get("line") is True and not {"points", "corners", "file", "code"} & table.keys():
        yield Fault(
            f"{key_text(path)} is a line through one point",
            "line belongs to points, corners, file or code",
            "Take it out",
            source((*path, "line")),
        )


def _too_few_corners(table: Written, path: KeyPath, source: Where) -> Iterator[Fault]:
    """Check that an outline has three corners."""
    for key in ("points", "corners"):
        corners = table.get(key)
        if isinstance(corners, list) and len(corners) < 3:
            what = f"{key_text((*path, key))} = {shown(corners)} is too short"
            yield Fault(what, "an outline has 3 corners at least", "Name them all in order", source((*path, key)))


def _corner_twice(table: Written, path: KeyPath, source: Where) -> Iterator[Fault]:
    """Check that an outline by names has each corner once."""
    names = table.get("points")
    seen: set[str] = set()
    for name in names if isinstance(names, list) else ():
        folded = str(name).strip().casefold()
        if folded in seen:
            yield Fault(
                f"{key_text((*path, 'points'))} names {shown(name)} twice",
                "an outline passes each corner once, and closes by itself",
                "Take one out",
                source((*path, "points")),
            )
        seen.add(folded)


def _one_way(
    table: Written, path: KeyPath, keys: tuple[str, ...], source: Where, *, needed: bool = True
) -> Iterator[Fault]:
    """Check that a table holds at most one of some keys, or exactly one."""
    found = [key for key in keys if key in table]
    if len(found) > 1:
        yield Fault(
            f"{key_text(path)} has {' and '.join(found)}",
            f"it takes one of {', '.join(keys)}",
            "Keep the one that is right",
            source((*path, found[-1])),
        )
    if needed and not found:
        yield Fault(f"{key_text(path)} has none of {', '.join(keys)}", "it needs one", source=source(path))


WINDOW = ("below", "above", "most-below", "least-below", "most-above", "least-above")


def _where_faults(pad: Written, source: Where) -> Iterator[Fault]:
    """Check the tables that say how high the pad finishes and which way it lies."""
    finish = pad.get("finish")
    if isinstance(finish, Mapping):
        heights = [key for key in WINDOW if key in finish]
        where = source(("pad", "finish"))
        if heights and "point" not in finish:
            yield Fault(
                f"[pad] finish has {' and '.join(heights)} but no point",
                "heights count from a point of the survey",
                'Name it: point = "DOOR"',
                where,
            )
        if "point" in finish and not heights:
            rule = f"it takes {', '.join(WINDOW)}"
            yield Fault("[pad] finish has a point but no height above or below it", rule, "", where)
        if not finish:
            yield Fault("[pad] finish is empty", 'such as { point = "DOOR", most-below = "150 mm" }', "", where)
        if {"below", "above"} & finish.keys() and len(heights) > 1:
            rule = "below and above are the one level allowed"
            yield Fault(f"[pad] finish has {' and '.join(heights)}", rule, "Keep one", where)
    bearing = pad.get("bearing")
    for entry in bearing if isinstance(bearing, list) else [bearing]:
        if isinstance(entry, Mapping):
            yield from _direction_faults(entry, isinstance(bearing, list), source(("pad", "bearing")))
    faces = pad.get("faces")
    if isinstance(faces, Mapping) and len({"towards", "bearing"} & faces.keys()) != 1:
        yield Fault(
            f"[pad] faces has {'both towards and bearing' if 'towards' in faces else 'neither towards nor bearing'}",
            "the front faces a point or a bearing",
            "Give one of them",
            source(("pad", "faces")),
        )
    if pad.get("position") == "drawn" and "file" not in pad:
        yield Fault(
            '[pad] position = "drawn" has no drawing',
            "it belongs to file, whose outline then stays where it is drawn",
            "Give file, or a position such as [12, 8.5]",
            source(("pad", "position")),
        )


def _direction_faults(entry: Written, in_list: bool, where: Source) -> Iterator[Fault]:
    """Check that a direction goes by a line or is a range."""
    lines = [key for key in ("parallel-to", "square-to") if key in entry]
    ends = [key for key in ("from", "to") if key in entry]
    if len(lines) + bool(ends) != 1:
        what = " and ".join([*lines, *ends]) or "nothing"
        rule = "it goes by a line (parallel-to, square-to), or is a range (from and to)"
        yield Fault(f"[pad] bearing has {what}", rule, "Keep one", where)
    elif len(ends) == 1:
        other = "to" if ends == ["from"] else "from"
        yield Fault(f"[pad] bearing has {ends[0]} but no {other}", "a range has both ends, clockwise", "", where)
    elif in_list and lines:
        yield Fault(f"[pad] bearing has {lines[0]} in a list", "a list holds ranges", "Write from and to", where)


def _notch_faults(pad: Written, source: Where) -> Iterator[Fault]:
    """Check that a notch has a rectangle that it leaves something of."""
    if "notch" not in pad:
        return
    whole = pad.get("size") or pad.get("building")
    if whole is None:
        yield Fault(
            "[pad] notch has no rectangle to be cut from",
            "an L is size or building, less the notch at one corner",
            "Give size, or take notch out",
            source(("pad", "notch")),
        )


def _pad_faults(written: Written, source: Where, folder: Path) -> Iterator[Fault]:
    """Check that the pad has one size, and that the edge has the keys of its kind."""
    if "pad" not in written or not isinstance(written["pad"], Mapping):
        return
    pad = _table(written, "pad")
    yield from _one_way(pad, ("pad",), ("building", "size", "corners", "diameter", "file"), source)
    yield from _file_faults(pad, ("pad",), source, folder)
    yield from _notch_faults(pad, source)
    yield from _where_faults(pad, source)
    if isinstance(pad.get("corners"), list) and len(pad["corners"]) < 3:
        what = f"[pad] corners = {shown(pad['corners'])} is too short"
        yield Fault(what, "an outline has 3 corners at least", "Name them all in order", source(("pad", "corners")))
    if "crs" in pad and "file" not in pad:
        yield Fault("[pad] crs has no file to speak of", "crs belongs to file", "Take it out", source(("pad", "crs")))
    if "margin" in pad and "building" not in pad:
        yield Fault(
            "[pad] margin has no building to go round",
            "the pad is building plus margin on every side, or size as it stands",
            "Give building, or take margin out",
            source(("pad", "margin")),
        )
    edge = _table(pad, "edge")
    for key, kind in (("beam", "timber"), ("cut", "bank"), ("fill", "bank"), ("corners", "bank")):
        if key in edge and isinstance(edge.get("kind"), str) and edge["kind"] != kind:
            yield Fault(
                f"[pad] edge {key} has no meaning for kind = {shown(edge['kind'])}",
                f"it belongs to kind = {shown(kind)}",
                "Take it out, or correct kind",
                source(("pad", "edge", key)),
            )
    if edge.get("kind") == "timber" and "diameter" in pad:
        yield Fault(
            "[pad] edge is timber, and the pad is round",
            "a timber frame has straight sides",
            'Give it edge = { kind = "retained" } or a bank, or corners: as many as you want to saw',
            source(("pad", "edge")),
        )
    if edge.get("kind") == "bank":
        for key in ("cut", "fill"):
            if key not in edge:
                yield Fault(
                    f"[pad] edge has no {key}", 'a bank needs both slopes: cut = "1:1.5"', "", source(("pad", "edge"))
                )


def _named_row_faults(written: Written, source: Where) -> Iterator[Fault]:
    """Check the names that stand for rows of the tables of factors."""
    soil = _table(written, "soil")
    given = [key for key in ("swell", "shrink") if key in soil]
    if "kind" in soil and given:
        yield Fault(
            f"[soil] has kind and {' and '.join(given)}",
            "the kind sets both; your own numbers take its place",
            "Take kind out, or the numbers",
            source(("soil", given[0])),
        )
    elif len(given) == 1:
        other = "shrink" if given == ["swell"] else "swell"
        yield Fault(
            f"[soil] has {given[0]} but no {other}", "your own numbers come in pairs", "", source(("soil", given[0]))
        )
    yield from _looked_up(soil, ("soil", "kind"), source, soil_factors)
    yield from _looked_up(_table(written, "levels"), ("levels", "tolerance"), source, tolerance_rule)


def _looked_up(table: Written, path: KeyPath, source: Where, look_up: Callable[[str], object]) -> Iterator[Fault]:
    """Check that a name is found where it is looked up."""
    name = table.get(str(path[-1]))
    if not isinstance(name, str) or not name.strip():
        return
    try:
        look_up(name.strip())
    except InputError as error:
        for fault in error.faults:
            yield Fault(f"{key_text(path)}: {fault.what}", fault.rule, fault.remedy, source(path), fault.value)
