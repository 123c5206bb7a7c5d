"""Writing elements in normal form as SVG text, their ids scoped to one drawing."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping

from lxml import etree

from vecrepeat.art.normalform import CHOSEN, KIND, LABEL, LAYER
from vecrepeat.art.xml import DESCRIPTIVE, HREF, SVG, XLINK, attributes, local

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

    lxml writes it, which refuses names and characters that XML has no place for.

    Args:
        element: in normal form; its tail is not written.
        scope: maps every id, and every reference to one, to its name in the output.
        extra: attributes set on the element itself where it has none of that name.
    """
    # It declares the namespaces, as the documents do that take the text up.
    holder = etree.fromstring(f'<svg xmlns="{SVG}" xmlns:xlink="{XLINK}"/>')
    _copied(element, scope, extra or {}, holder)
    text = etree.tostring(holder, encoding="unicode")
    return text[text.index(">") + 1 : text.rindex("</")]


def _copied(
    element: etree._Element,
    scope: Callable[[str], str],
    extra: Mapping[str, str],
    holder: etree._Element,
) -> etree._Element:
    name = local(element)
    out = etree.SubElement(holder, element.tag, {k: scoped(v, scope) for k, v in extra.items()})
    for key, value in attributes(element).items():
        if key in _OURS:
            continue
        if key in ("href", HREF):
            key = HREF
            if value.startswith("#"):
                value = f"#{scope(value[1:])}"
        elif key == "id":
            value = scope(value)
        else:
            value = scoped(value, scope)
        out.set(key, value)
    # White space between elements is layout of the source, text inside text is content.
    keeps_text = name in ("text", "tspan", "textPath", "style") or name in DESCRIPTIVE
    if keeps_text:
        out.text = element.text
    for child in element:
        written = _copied(child, scope, {}, out)
        if keeps_text:
            written.tail = child.tail
    return out
