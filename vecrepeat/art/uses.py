"""What a drawing's ``use`` elements come to, worked out before they are expanded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from lxml import etree

from vecrepeat.art.totals import Edge, Total, total
from vecrepeat.art.xml import MAX_ELEMENTS, SVG, attributes, href, local
from vecrepeat.core.errors import InputError

MAX_CHARACTERS = 64 << 20
"""The most characters of attributes that they may add: copies take memory."""


def check_uses(
    root: etree._Element, definitions: Mapping[str, etree._Element], file: Path | str
) -> None:
    """Refuse a drawing whose ``use`` elements come to too much.

    Args:
        root: the document as it was written.
        definitions: its elements by id.
        file: its name, for the error.

    Raises:
        InputError: they add more than 400,000 elements or 64 MiB of attributes.
    """
    if next(root.iter(f"{{{SVG}}}use"), None) is None:
        return

    def edges(element: etree._Element) -> Iterator[Edge]:
        for child in element:
            yield Edge(child)
        if local(element) == "use" and (target := definitions.get(href(element)[1:])) is not None:
            yield Edge(target)

    found = total(root, _own, edges)
    size = characters = 0
    for element in root.iter():
        size += 1
        characters += _own(element).characters
    if found.size - size > MAX_ELEMENTS:
        raise InputError(
            f"its <use> elements expand to more than {MAX_ELEMENTS:,} elements",
            file=file,
            hint="repeat less: what a repeat shows again need not be drawn again",
        )
    if found.characters - characters > MAX_CHARACTERS:
        raise InputError(
            f"its <use> elements expand to more than {MAX_CHARACTERS >> 20} MiB",
            file=file,
            hint="they copy large pictures or paths: make those smaller or use them less",
        )


def _own(element: etree._Element) -> Total:
    return Total(1, 0, sum(map(len, attributes(element).values())))
