"""What pydantic found wrong with a site file, said so that its author can mend it."""

from __future__ import annotations

import difflib
import re
import tomllib
import typing
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from spadework.errors import Fault, Source
from spadework.site_lines import KeyPath, nearest_line
from spadework.site_schema import SiteFile, Table
from spadework.site_values import nearest, shown

__all__ = ["key_text", "schema_faults", "syntax_fault"]


def key_text(path: KeyPath) -> str:
    """Return the name of a key for people: ``[keep-out 2] radius``, ``[pad] build-up 1 depth``, ``[site]``."""
    words = [str(part + 1) if isinstance(part, int) else part for part in path]
    table_length = 2 if len(path) > 1 and isinstance(path[1], int) else 1
    table, rest = " ".join(words[:table_length]), " ".join(words[table_length:])
    return f"[{table}] {rest}" if rest else f"[{table}]"


CHOICES = frozenset(
    f"<{word}>"
    for word in [
        "bearing",
        "file",
        "test",
        "line",
        "ranges",
        "name",
        "position",
        "word",
        "stands",
        "level",
        "window",
        "one",
        "several",
    ]
)
"""What the schema calls its two ways to write a value."""


def schema_faults(error: ValidationError, lines: Mapping[KeyPath, int], file: str) -> Iterator[Fault]:
    """Yield a fault for each thing that does not fit the schema.

    Parameters
    ----------
    error : ValidationError
        What `SiteFile` raised.
    lines : mapping
        Line of each key, from `spadework.site_lines.key_lines`.
    file : str
        Name of the site file.
    """
    details = [(_keys(detail), detail) for detail in error.errors()]
    misspelt = {(*path[:-1], _meant(path)) for path, detail in details if detail["type"] == "extra_forbidden"}
    for path, detail in details:
        source = Source(file, nearest_line(lines, path))
        kind = detail["type"]
        if kind == "extra_forbidden":
            yield _unknown_key(path, source)
        elif kind == "missing" and path in misspelt:
            continue  # one mistake, told once
        elif kind == "missing":
            yield _missing(path, detail, source)
        elif kind == "refused":
            yield _refused(path, detail, source)
        else:
            yield _wrong_type(path, detail, source)


def _keys(detail: ErrorDetails) -> KeyPath:
    """Return the path of a fault, without pydantic's choices between two ways to write a value."""
    path = detail["loc"]
    # The last part of a key that nobody knows is as its author wrote it, even where it looks like a choice.
    unknown = len(path) - 1 if detail["type"] == "extra_forbidden" else None
    return tuple(part for place, part in enumerate(path) if place == unknown or part not in CHOICES)


def _meant(path: KeyPath) -> str:
    """Return the key that a misspelt one is nearest to, or nothing."""
    near = difflib.get_close_matches(str(path[-1]).casefold(), _keys_of(path[:-1])[1], n=1)
    return near[0] if near else ""


def _refused(path: KeyPath, detail: ErrorDetails, source: Source) -> Fault:
    """Return the fault of a value that a reader of `site_values` refused."""
    context = detail.get("ctx", {})
    complaint = context["complaint"]
    value = detail["input"]
    # What the parser of lengths says begins with the value; what is said here does not.
    own_words = complaint.startswith(":")
    what = f"{key_text(path)}{complaint}" if own_words else f"{key_text(path)} = {shown(value)} {complaint}"
    return Fault(
        what,
        context["rule"],
        _sentence(context["remedy"]),
        source,
        value if own_words and isinstance(value, str) else shown(value),
    )


def _unknown_key(path: KeyPath, source: Source) -> Fault:
    """Return the fault of a key that nobody reads, with the nearest right spelling or the table it belongs in."""
    key = str(path[-1])
    table, known = _keys_of(path[:-1])
    remedy = nearest(key, known)
    if not remedy:
        homes = [home for home, keys in _every_table() if key in keys]
        remedy = f"{shown(key)} belongs in {' or '.join(homes)}" if homes else "take it out"
    what = f"unknown table [{key}]" if len(path) == 1 else f"unknown key {shown(key)} in {table}"
    holder = "a site file" if len(path) == 1 else table
    return Fault(what, f"{holder} takes {', '.join(known)}", _sentence(remedy), source, key)


def _missing(path: KeyPath, detail: ErrorDetails, source: Source) -> Fault:
    """Return the fault of a key that must be there, or of a list that is too short."""
    expected = _expected(path)
    if isinstance(path[-1], int):
        return Fault(
            f"{key_text(path[:-1])} = {shown(detail['input'])} is too short", f"expected {expected}", source=source
        )
    holder = f"{key_text(path[:-1])} has" if len(path) > 1 else "the file has"
    wanted = f"no {path[-1]}" if len(path) > 1 else f"no table [{path[-1]}]"
    return Fault(f"{holder} {wanted}", f"it must have {expected}", source=source)


def _wrong_type(path: KeyPath, detail: ErrorDetails, source: Source) -> Fault:
    """Return the fault of a value of another type than the key takes."""
    value = detail["input"]
    key = str(path[-1])
    if len(path) == 1 and isinstance(value, dict):
        return Fault(
            f"[{key}] has one pair of brackets", f"[[{key}]] with two pairs begins each of a list", source=source
        )
    if len(path) == 1 and isinstance(value, list):
        return Fault(f"[[{key}]] has two pairs of brackets", f"[{key}] comes once, with one pair", source=source)
    complaint = {"too_long": "is too long", "too_short": "is too short"}.get(detail["type"], "is not what is needed")
    return Fault(
        f"{key_text(path)} = {shown(value)} {complaint}", f"expected {_expected(path)}", "", source, shown(value)
    )


def _sentence(text: str) -> str:
    """Return the text with a capital letter, as what follows a full stop."""
    return text[:1].upper() + text[1:]


def _keys_of(path: KeyPath) -> tuple[str, list[str]]:
    """Return the name of the table at ``path`` and the keys that it takes."""
    model: type[Table] = SiteFile
    for part in path:
        if isinstance(part, str):
            model = _model_of(_field(model, part)) or model
    return key_text(path) if path else "the file", _aliases(model)


def _aliases(model: type[Table]) -> list[str]:
    """Return the keys of a table as they are written."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _field(model: type[Table], key: str) -> FieldInfo | None:
    """Return the field of a table that is written ``key``."""
    return next((field for name, field in model.model_fields.items() if key in {field.alias, name}), None)


def _model_of(field: FieldInfo | None) -> type[Table] | None:
    """Return the table that a field holds, alone or in a list."""
    return None if field is None else next(_models_in(field.annotation), None)


def _models_in(annotation: Any) -> Iterator[type[Table]]:
    """Yield the tables that a type speaks of."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        yield annotation
    for inner in typing.get_args(annotation):
        yield from _models_in(inner)


def _every_table(model: type[Table] = SiteFile, path: KeyPath = ()) -> Iterator[tuple[str, list[str]]]:
    """Yield the name and the keys of every table below a model."""
    for key in _aliases(model):
        inner = _model_of(_field(model, key))
        if inner is not None:
            yield key_text((*path, key)), _aliases(inner)
            yield from _every_table(inner, (*path, key))


def _expected(path: KeyPath) -> str:
    """Return the description of the innermost key of a path."""
    model: type[Table] = SiteFile
    description = "something else"
    for part in path:
        field = _field(model, part) if isinstance(part, str) else None
        if field is not None:
            description = field.description or description
            model = _model_of(field) or model
    return description


def syntax_fault(error: tomllib.TOMLDecodeError, text: str, file: str) -> Fault:
    """Return the fault of a text that is no TOML, with a guess at what was meant.

    Parameters
    ----------
    error : TOMLDecodeError
        What the parser raised. It stops at the first.
    text : str
        The whole text.
    file : str
        Name of the site file.
    """
    written = text.splitlines() or [""]
    place = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
    line = int(place.group(1)) if place else len(written)
    complaint = re.sub(r"\s*\(at .*\)$", "", str(error))
    row = written[line - 1] if line <= len(written) else ""
    if r"llegal character '\n'" in complaint:
        complaint = "a text in quotes is not closed on this line"
    return Fault(
        f"the file cannot be read from here on: {complaint[:1].lower()}{complaint[1:]}",
        "a site file is TOML: key = value, text in quotes, tables in [brackets]",
        _advice(row, complaint, written, line),
        Source(file, line),
        row.strip(),
    )


def _advice(row: str, complaint: str, written: Sequence[str], line: int) -> str:
    """Return what to do about a line that the parser stopped at."""
    key, equals, value = (part.strip() for part in row.partition("="))
    if "overwrite" in complaint or "declare" in complaint or "Cannot mutate" in complaint:
        return (
            "It stands there twice: keep one (several keep-outs or readings are begun with [[keep-out]], [[readings]])"
        )
    if row.strip().startswith("[") and not row.partition("#")[0].rstrip().endswith("]"):
        return "Close the brackets"
    if "not closed" in complaint:
        return f'Write the closing quote: {row.strip()}"'
    if not equals:
        near = difflib.get_close_matches(row.strip(" []"), [name for name, _ in _every_table()], n=1)
        return f"Did you mean {near[0]}?" if near else "Write key = value, or begin the line with # to make it a remark"
    if value.count('"') > 2 and re.search(r"\d['′]", value):
        inner = value[1:-1] if value.endswith('"') else value[1:]
        return f"""Feet and inches hold quotes themselves: write {key} = "{_spelt_out(inner)}" """.strip()
    if re.match(r"[-+]?[\d.,]+\s*[^\d\s,#]", value) or re.match(r"[A-Za-z]", value):
        bare = value.partition("#")[0].strip()
        return f'Put the text in quotes: {key} = "{bare}"'
    if re.match(r"[-+]?\d+,\d+\s*(#|$)", value):
        return f"Write a point for the decimals: {key} = {value.replace(',', '.')}"
    opened = next((n for n in range(line, 0, -1) if re.search(r"=\s*[\[{]", written[n - 1])), None)
    return f"Look for a bracket, a comma or a quote that is missing, from line {opened or line} on"


def _spelt_out(length: str) -> str:
    """Return feet and inches written with words for marks: ``6' 0"`` as ``6 ft 0 in``."""
    return re.sub(r"\s*[\"″]", " in", re.sub(r"\s*['′]\s*-?\s*", " ft ", length)).strip()
