"""Exchange files written in XML: which of them a text is, and its reader."""

from __future__ import annotations

from spadework.errors import Fault, InputError, Source
from spadework.read.recognised import Recognised
from spadework.read.text import SourceText

__all__ = ["read_exchange"]

STARTS = ("<?xml", "<gpx", "<landxml", "<!doctype", "<!--", "<")
ROOTS = {"gpx": "track", "LandXML": "landxml"}


def read_exchange(source: SourceText, kind: str | None) -> Recognised | None:
    """Return the readings of a GPX or LandXML file, None where the text is no XML.

    Parameters
    ----------
    source : SourceText
        Lines.
    kind : str, optional
        Kind that the user insists on.

    Raises
    ------
    InputError
        The XML is broken, is another format, or not of the kind wanted.
    """
    first = next((line.lstrip().casefold() for line in source.lines if line.strip()), "")
    if not first.startswith(STARTS):
        if kind == "landxml":
            what = f"the file begins with {first[:40]!r}, not with an element"
            raise InputError(Fault(what, "LandXML is XML", "correct the kind, or the file", Source(source.file, 1)))
        return None
    # The parser and the readers behind it are loaded only for such files: tables have no use for them.
    from spadework.read.xml_text import line_of, local_name, parse_xml  # noqa: PLC0415

    root = parse_xml(source)
    found = ROOTS.get(local_name(root), "")
    if not found or (kind is not None and kind != found):
        what = f"the file is XML with the root element {local_name(root)!r}"
        rule = "exchange files that are read are GPX and LandXML" if not found else f"that is the kind {found}"
        remedy = "give a table of points" if not found else f"leave the kind out, or say {found}"
        raise InputError(Fault(what, rule, remedy, Source(source.file, line_of(root) or 1)))
    reason = f"its root element is {local_name(root)}"
    if found == "track":
        from spadework.read.track import read_gpx  # noqa: PLC0415 - with pyproj behind it

        track, words = read_gpx(root, source.file)
        return Recognised(track, "track", f"read as track: {words}", reason, (), source.notes)
    from spadework.read.landxml import read_landxml  # noqa: PLC0415 - wanted by few runs

    reading, words, notes = read_landxml(root, source.file)
    return Recognised(reading, "landxml", f"read as landxml: {words}", reason, (), (*source.notes, *notes))
