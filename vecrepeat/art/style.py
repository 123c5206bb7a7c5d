"""The one style resolver: from style sheets and ``style=""`` to plain attributes.

Sources: CSS Cascade 4 §6-7 (cascading, defaulting), SVG 2 §6 "Styling" (presentation
attributes as author rules of specificity 0 before all others), CSS Variables 1, CSS Color 4
§6.2 (``currentColor`` inherits as a keyword).

The normal form: no ``style`` elements and no ``class``; each declared property of an SVG
element is the attribute of its name with a valid, canonical value, except ``mix-blend-mode``
and ``isolation``, which stay in ``style=""``. Values are specified values: what isn't declared
on an element still inherits through the tree.

Colours are ``#rrggbb``, ``rgba(r, g, b, a)`` or ``currentColor``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from lxml import etree

from vecrepeat.art.css_values import WIDE, expand
from vecrepeat.art.custom_properties import Notes, TooLongError, compute_custom, substitute
from vecrepeat.art.properties import (
    GEOMETRY,
    INHERITED,
    INITIAL,
    PRESENTATION,
    PROPERTIES,
    STYLE_ONLY,
    TRANSFORM_ATTRIBUTE,
    UNSTYLED,
)
from vecrepeat.art.stylesheet import Block, Pending, Sheets, Value, declare, parse_inline
from vecrepeat.art.xml import SVG, local, remove

__all__ = [
    "INHERITED",
    "INITIAL",
    "inherited_properties",
    "property_of",
    "resolve_styles",
]

_NO_VARIABLES: Mapping[str, str] = {}
_COMMENT_RE = re.compile(r"/\*.*?(?:\*/|$)", re.DOTALL)


def resolve_styles(root: etree._Element) -> tuple[str, ...]:
    """Bring the SVG tree under ``root`` into normal form (see the module's docstring).

    Args:
        root: the document's ``svg`` element; changed in place.

    Returns:
        A readable line for each thing ignored, without repeats; at most 100.

    Raises:
        InputError: style sheets of more than 5,000,000 characters or 20,000 selectors, or ones
            that take too long to match.
    """
    notes = Notes()
    sheets = Sheets(notes)
    sheets.read(root)
    # Selectors see the tree as written, so all matching comes before any rewriting.
    matched = sheets.match(root)
    elements = list(root.iter("*"))
    variables: dict[etree._Element, Mapping[str, str]] = {}
    for index, element in enumerate(elements):
        parent = element.getparent()
        inherited = _NO_VARIABLES
        if variables and parent is not None:
            inherited = variables.get(parent, _NO_VARIABLES)
        name = local(element)
        if name and name not in UNSTYLED:
            specified = _cascade(element, matched[index] if matched else (), notes)
            if any(key.startswith("--") for key in specified):
                if name == "use":
                    notes.add("custom properties set on <use> do not reach what it shows")
                own = {k: v for k, v in specified.items() if k[:2] == "--" and isinstance(v, str)}
                inherited = compute_custom(own, inherited, notes)
            computed = _compute(element, specified, inherited, notes)
            _write(element, name, specified, computed)
        if inherited:
            variables[element] = inherited
    for element in elements:
        if element.tag == f"{{{SVG}}}style" and element is not root:
            remove(element)
    return tuple(notes)


@lru_cache(maxsize=16384)
def _attribute_value(name: str, text: str) -> Value | None:
    """A presentation attribute's value; None if invalid."""
    longhands = declare(name, _COMMENT_RE.sub(" ", text) if "/*" in text else text)
    return longhands[0][1] if longhands else None


def _cascade(element: etree._Element, rules: tuple[Block, ...], notes: Notes) -> dict[str, Value]:
    """The winning declarations on one element, by longhand or custom property."""
    specified: dict[str, Value] = {}
    inline = None
    for key, text in element.attrib.items():
        name = str(key)
        if name in PRESENTATION:
            value = _attribute_value(name, str(text))
            if value is not None:
                specified[name] = value
            elif text:
                notes.add(f'attribute value not understood: {name}="{str(text)[:60]}"')
        elif name == "style":
            inline = parse_inline(str(text))
            for note in inline.notes:
                notes.add(note)
    for block in rules:
        specified.update(block.normal)
    if inline is not None:
        specified.update(inline.normal)
    for block in rules:
        specified.update(block.important)
    if inline is not None:
        specified.update(inline.important)
    return specified


def _compute(
    element: etree._Element,
    specified: Mapping[str, Value],
    variables: Mapping[str, str],
    notes: Notes,
) -> dict[str, str]:
    """The values to write; a property left out inherits or has its initial value."""
    computed: dict[str, str] = {}
    for name, value in specified.items():
        if name[:2] == "--":
            continue
        if isinstance(value, Pending):
            value = _substituted(name, value, variables, notes)
        if value in WIDE:
            if value == "unset":
                value = "inherit" if name in INHERITED else "initial"
            if value == "inherit" and name not in INHERITED:
                parent = element.getparent()
                value = "" if parent is None else _declared(parent, name)
            elif value == "initial":
                value = INITIAL[name]
            else:
                # The tree inherits by itself; and "revert" goes back past all author styles,
                # presentation attributes included (CSS Cascade 4 §7.3.2).
                value = ""
        if value:
            computed[name] = value
    return computed


def _substituted(name: str, value: Pending, variables: Mapping[str, str], notes: Notes) -> str:
    """A longhand's value with its ``var()`` put in, "unset" if that makes it invalid."""
    try:
        text = substitute(value.text, lambda name, _: variables.get(name))
    except TooLongError:
        notes.add(f"value too long: {value.declared}")
        text = None
    longhands = None if text is None else expand(value.declared, text)
    if not longhands:
        notes.add(f"value not understood: {value.declared}: {value.text[:60]}")
        return "unset"
    return dict(longhands)[name]


def _attribute(name: str, element_name: str) -> str:
    """The attribute that holds property ``name`` on an element; "" if it takes none."""
    if name == "transform":
        return TRANSFORM_ATTRIBUTE.get(element_name, name)
    if name in GEOMETRY:
        return name if element_name in GEOMETRY[name] else ""
    return name


def _declared(element: etree._Element, name: str) -> str:
    """What an element in normal form declares for a property, "" for nothing."""
    element_name = local(element)
    if not element_name or element_name in UNSTYLED:
        return ""
    if name in STYLE_ONLY:
        return dict(style_pairs(element)).get(name, "")
    attribute = _attribute(name, element_name)
    return str(element.get(attribute, "")) if attribute else ""


def style_pairs(element: etree._Element) -> list[tuple[str, str]]:
    """Return what the ``style`` attribute of an element in normal form declares."""
    items = (item.partition(":") for item in str(element.get("style", "")).split(";"))
    return [(name.strip(), value.strip()) for name, _, value in items]


def _write(
    element: etree._Element,
    element_name: str,
    specified: Mapping[str, Value],
    computed: Mapping[str, str],
) -> None:
    attributes = element.attrib
    for key in list(attributes):
        name = str(key)
        if (name in PRESENTATION and name not in computed) or name in ("class", *STYLE_ONLY):
            del attributes[name]
    style = ";".join(f"{n}:{computed[n]}" for n in STYLE_ONLY if n in computed)
    if style:
        attributes["style"] = style
    elif "style" in attributes:
        del attributes["style"]
    for name in specified:
        value = computed.get(name)
        if name in PRESENTATION:
            if value is not None and attributes.get(name) != value:
                attributes[name] = value
        elif name in GEOMETRY or name == "transform":
            attribute = _attribute(name, element_name)
            if attribute and value is not None and value not in ("auto", "none"):
                attributes[attribute] = value
            elif attribute and attribute in attributes:
                # An absent attribute means what "auto" and "none" mean.
                del attributes[attribute]


def inherited_properties(element: etree._Element) -> dict[str, str]:
    """The inherited properties in force at ``element`` from its ancestors' attributes.

    The tree must be in normal form. The element's own attributes don't count; properties no
    ancestor sets are absent (see ``INITIAL``).
    """
    found: dict[str, str] = {}
    for ancestor in element.iterancestors():
        if local(ancestor):
            for key, value in ancestor.attrib.items():
                if key in INHERITED:
                    found.setdefault(str(key), str(value))
    return found


def property_of(element: etree._Element, name: str) -> str:
    """The value of property ``name`` in force at ``element`` of a tree in normal form.

    Its own, else for inherited properties its nearest ancestor's, else the initial value;
    relative lengths are not resolved.

    Raises:
        KeyError: not a known SVG property.
    """
    row = PROPERTIES[name]
    value = _declared(element, name)
    if not value and row.inherited:
        for ancestor in element.iterancestors():
            value = _declared(ancestor, name)
            if value:
                break
    return value or row.initial
