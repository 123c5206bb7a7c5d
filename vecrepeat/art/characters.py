"""The characters a text shows: each with its style and the position set for it.

Sources: SVG 2 §11 (white space, addressable characters), SVG 1.1 §10 (position lists).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from lxml import etree

from vecrepeat.art.page import Viewport, user_length
from vecrepeat.art.xml import SVG, XML, local, real

TEXTUAL = ("tspan", "textPath")
"""The elements inside a text that hold text of their own."""

NOWHERE = Viewport(0.0, 0.0)
"""The viewport that lengths in text are measured in: shares of it come to nothing."""

_STRETCHES = {
    "ultra-condensed": 1,
    "extra-condensed": 2,
    "condensed": 3,
    "semi-condensed": 4,
    "normal": 5,
    "semi-expanded": 6,
    "expanded": 7,
    "extra-expanded": 8,
    "ultra-expanded": 9,
}
_STRETCH_PERCENT = (50.0, 62.5, 75.0, 87.5, 100.0, 112.5, 125.0, 150.0, 200.0)


class LiveTextError(Exception):
    """A text can't be outlined; the reason is a clause for a note."""


class FontlessError(Exception):
    """No font is installed that could draw a text; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class TextStyle:
    """What of an element's style sets its text; lengths in user units."""

    families: tuple[str, ...] = ("serif",)
    weight: int = 400
    italic: bool = False
    stretch: int = 5
    size: float = 16.0
    letter: float = 0.0
    word: float = 0.0
    kerning: bool = True
    preserve: bool = False
    space: str = ""
    shifts: tuple[tuple[str, float], ...] = ()

    @property
    def keeps_space(self) -> bool:
        """Whether white space does not collapse; ``white-space`` wins over ``xml:space``."""
        if self.space:
            return self.space in ("pre", "pre-wrap", "break-spaces")
        return self.preserve


@dataclass
class Styles:
    """The text styles of a document's elements, each worked out once."""

    _known: dict[etree._Element, TextStyle] = field(default_factory=dict)

    def of(self, element: etree._Element) -> TextStyle:
        """Return an element's text style."""
        found = self._known.get(element)
        if found is None:
            parent = element.getparent()
            above = TextStyle() if parent is None else self.of(parent)
            found = self._known[element] = _derived(element, above)
        return found


def _weight(text: str, parent: int) -> int:
    if text == "bolder":
        return 400 if parent < 350 else 700 if parent < 550 else max(parent, 900)
    if text == "lighter":
        return min(parent, 100) if parent < 550 else 400 if parent < 750 else 700
    named = {"normal": 400, "bold": 700}.get(text)
    return named if named is not None else int(min(max(real(text, parent), 1), 1000))


def _stretch(text: str, parent: int) -> int:
    if text.endswith("%"):
        share = real(text[:-1], 100.0)
        return 1 + min(range(9), key=lambda k: abs(_STRETCH_PERCENT[k] - share))
    return _STRETCHES.get(text, parent)


def _derived(element: etree._Element, parent: TextStyle) -> TextStyle:
    """Return an element's text style from its parent's and its own attributes."""
    get = element.get
    changes: dict[str, Any] = {}
    size = parent.size
    if (text := get("font-size")) is not None:
        size = changes["size"] = max(0.0, real(text, parent.size))
    if (text := get("font-family")) is not None:
        changes["families"] = families_in(text) or parent.families
    if (text := get("font-weight")) is not None:
        changes["weight"] = _weight(text, parent.weight)
    if (text := get("font-style")) is not None:
        changes["italic"] = text != "normal"
    if (text := get("font-stretch")) is not None:
        changes["stretch"] = _stretch(text.strip(), parent.stretch)
    for name, key in (("letter-spacing", "letter"), ("word-spacing", "word")):
        if (text := get(name)) is not None:
            changes[key] = user_length(text, "x", NOWHERE, size) or 0.0
    if (text := get("kerning")) is not None:
        # SVG 1.1 §10.11: a length switches the font's own kerning off and is added instead.
        changes["kerning"] = text == "auto"
        if length := user_length(text, "x", NOWHERE, size):
            changes["letter"] = changes.get("letter", parent.letter) + length
    if (text := get(f"{{{XML}}}space")) is not None:
        changes["preserve"] = text == "preserve"
    if (text := get("white-space")) is not None:
        changes["space"] = text
    if local(element) not in TEXTUAL:
        changes["shifts"] = ()
    elif (text := get("baseline-shift")) is not None and text not in ("0", "baseline"):
        changes["shifts"] = (*parent.shifts, (text, size))
    return replace(parent, **changes) if changes else parent


def families_in(text: str) -> tuple[str, ...]:
    """Return the families of a ``font-family`` value, quotes taken off."""
    names = (" ".join(part.strip().strip("\"'").split()) for part in text.split(","))
    return tuple(name for name in names if name)


@dataclass(slots=True)
class Char:
    """A character that is left after white space has collapsed (SVG 2 §11.5: addressable).

    ``shift`` adds up ``dx`` and ``dy`` from the beginning of its chunk.
    """

    char: str
    element: etree._Element
    style: TextStyle
    x: float | None = None
    y: float | None = None
    dx: float = 0.0
    dy: float = 0.0
    angle: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)


def characters_of(text: etree._Element, styles: Styles) -> list[Char]:
    """Return a text's addressable characters with the positions set for them."""
    chars: list[Char] = []

    def add(string: str | None, element: etree._Element) -> None:
        style = styles.of(element)
        preserve = style.keeps_space
        if string and preserve:
            string = string.replace("\r\n", "\n")
        for char in string or "":
            char = " " if char in "\t\n\r" else char
            if char == " " and not preserve and (not chars or chars[-1].char == " "):
                continue
            chars.append(Char(char, element, style))

    def visit(holder: etree._Element) -> None:
        add(holder.text, holder)
        for child in holder:
            if local(child) == "tspan":
                visit(child)
            add(child.tail, holder)

    visit(text)
    if chars and chars[-1].char == " " and not chars[-1].style.keeps_space:
        chars.pop()
    _position(chars, text)
    return chars


def _position(chars: list[Char], text: etree._Element) -> None:
    """Give characters the values of the position lists; inner elements' win."""
    lists: dict[etree._Element, tuple[dict[str, list[float]], list[float]]] = {}
    for element in (text, *text.iter(f"{{{SVG}}}tspan")):
        values = {k: _reals(element.get(k)) for k in ("x", "y", "dx", "dy")}
        lists[element] = values, _reals(element.get("rotate"))
    seen = dict.fromkeys(lists, 0)
    for char in chars:
        chain = [char.element]
        while chain[-1] is not text and (parent := chain[-1].getparent()) is not None:
            chain.append(parent)
        for element in reversed(chain):
            values, turns = lists[element]
            at = seen[element]
            seen[element] += 1
            for name, numbers in values.items():
                if at < len(numbers):
                    setattr(char, name, numbers[at])
            if turns:
                char.angle = turns[min(at, len(turns) - 1)]


def own_text(holder: etree._Element) -> Iterator[str | None]:
    """Yield the pieces of text right inside an element."""
    yield holder.text
    for child in holder:
        yield child.tail


def shown_text(text: etree._Element) -> Iterator[str]:
    """Yield the pieces of text in an element, in order, its titles left out."""
    yield text.text or ""
    for child in text:
        if local(child) in TEXTUAL:
            yield from shown_text(child)
        yield child.tail or ""


def within(element: etree._Element, holder: etree._Element) -> bool:
    """Whether an element is another or inside it."""
    return element is holder or any(above is holder for above in element.iterancestors())


def _reals(text: str | None) -> list[float]:
    return [real(part, 0.0) for part in (text or "").replace(",", " ").split()]
