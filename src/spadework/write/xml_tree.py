"""Builds XML files: elements with text, without the characters that XML cannot hold."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

__all__ = ["child", "root", "written", "xml_words"]

UNFIT = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Whatever is no ``Char`` of XML 1.0, section 2.2."""

Element = ET.Element


def root(name: str, namespace: str, /, **attributes: str) -> Element:
    """Return the outermost element, in a namespace that all its children share."""
    return Element(name, {"xmlns": namespace, **{key: xml_words(value) for key, value in attributes.items()}})


def child(parent: Element, name: str, text: str | None = None, /, **attributes: str) -> Element:
    """Add an element and return it.

    Parameters
    ----------
    parent : Element
        What it is added to.
    name : str
        Its name.
    text : str, optional
        What it says.
    **attributes : str
        Its attributes.
    """
    made = ET.SubElement(parent, name, {key: xml_words(value) for key, value in attributes.items()})
    if text is not None:
        made.text = xml_words(text)
    return made


def xml_words(text: str) -> str:
    """Return a text without what XML cannot hold."""
    return UNFIT.sub("\ufffd", text)


def written(tree: Element) -> bytes:
    """Return the file, in UTF-8."""
    ET.indent(tree, " ")
    text: bytes = ET.tostring(tree, encoding="utf-8", xml_declaration=True)
    return text + b"\n"
