"""Writing elements in normal form as SVG text, their ids scoped to one drawing."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping

from lxml import etree

from vecrepeat.art.normalform import CHOSEN, KIND, LABEL, LAYER
from vecrepeat.art.xml import DESCRIPTIVE, HREF, XML, attributes, local
from vecrepeat.xmltext import escaped, quoted

_URL_RE = re.compile(r"url\(\s*[\"']?#([^)\"']*)[\"']?\s*\)")
_OURS = frozenset((LABEL, LAYER, CHOSEN, KIND))


def references(written: Mapping[str, str]) -> Iterator[str]:
    """Yield the ids that attributes refer to."""
    for name, value in written.items():
        if "url(" in value:
            yield from _URL_RE.findall(value)
        elif name in ("href", HREF) and value.startswith("#"):
            yield value[1:]


def scoped(value: str, scope: Callable[[str], str]) -> str:
    """Return an attribute value with its references renamed."""
    if "url(" not in value:
        return value
    return _URL_RE.sub(lambda m: f"url(#{scope(m.group(1))})", value)


def to_markup(
    element: etree._Element, scope: Callable[[str], str], extra: Mapping[str, str] | None = None
) -> str:
    """Return an element and all it holds as SVG text without namespace declarations.

    Args:
        element: in normal form; its tail is not written.
        scope: maps every id, and every reference to one, to its name in the output.
        extra: attributes set on the element itself where it has none of that name.
    """
    out: list[str] = []
    _write(element, scope, extra or {}, out)
    return "".join(out)


def _write(
    element: etree._Element,
    scope: Callable[[str], str],
    extra: Mapping[str, str],
    out: list[str],
) -> None:
    name = local(element)
    out.append(f"<{name}")
    written = {key: scoped(value, scope) for key, value in extra.items()}
    for key, value in attributes(element).items():
        if key in _OURS:
            continue
        if key in ("href", HREF):
            key = "xlink:href"
            if value.startswith("#"):
                value = f"#{scope(value[1:])}"
        elif key == "id":
            value = scope(value)
        elif key.startswith(f"{{{XML}}}"):
            key = f"xml:{key.partition('}')[2]}"
        else:
            value = scoped(value, scope)
        written[key] = value
    for key, value in written.items():
        out.append(f" {key}={quoted(value)}")
    inside = len(out)
    out.append(">")
    # White space between elements is layout of the source, text inside text is content.
    keeps_text = name in ("text", "tspan", "textPath", "style") or name in DESCRIPTIVE
    if keeps_text and element.text:
        out.append(escaped(element.text))
    empty = len(out)
    for child in element:
        if isinstance(child.tag, str) and local(child):
            _write(child, scope, {}, out)
        if keeps_text and child.tail:
            out.append(escaped(child.tail))
    if len(out) == empty == inside + 1:
        out[inside] = "/>"
    else:
        out.append(f"</{name}>")
