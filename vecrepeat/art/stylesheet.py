"""Style sheets and style attributes: from CSS text to declarations matched to elements.

Sources: CSS Syntax 3 (parsing and recovery, by tinycss2), Selectors 4 (by cssselect2), Media
Queries 4 (only ``all`` and ``screen`` are taken as true), SVG 2 §6 "Styling".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, ClassVar

import cssselect2
import tinycss2
from lxml import etree

from vecrepeat.art.css_values import LONG, expand
from vecrepeat.art.custom_properties import Notes, short
from vecrepeat.art.properties import PROPERTIES, SHORTHANDS
from vecrepeat.art.xml import SVG
from vecrepeat.core.errors import InputError
from vecrepeat.util.xmltext import in_xml

MAX_SHEET_CHARACTERS = 5_000_000
MAX_SELECTORS = 20_000
#: Bounds the product of elements and candidate selectors, and so the time spent matching.
MAX_TESTS = 2_000_000
#: Bounds the steps to ancestors and siblings that all selectors together take.
MAX_STEPS = 3_000_000
_MAX_DEPTH = 50

# Styles which move or reset the drawing and which we leave out; the user should hear of it.
_NOTED = frozenset({"all", "translate", "rotate", "scale", "offset-path"})
# Only characters with no role in CSS but as parts of plain words, numbers and separators.
_SIMPLE_RE = re.compile(r"[A-Za-z0-9_\s#%.,:;+-]*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Pending:
    """A longhand whose value waits for ``var()``: the declaration it came from, as written."""

    declared: str
    text: str


Value = str | Pending
Declarations = tuple[tuple[str, Value], ...]


@dataclass(frozen=True, slots=True)
class Block:
    """The valid declarations of one rule or style attribute, and notes on the others."""

    normal: Declarations
    important: Declarations
    notes: tuple[str, ...]


def _css_text(tokens: Iterable[Any]) -> str | None:
    """The tokens as text without comments, or None when nested past reason."""
    try:
        text: str = tinycss2.serialize(t for t in tokens if t.type != "comment")
    except RecursionError:
        return None
    # An escape can name any character (CSS Syntax 3 §4.3.7).
    return in_xml(text.strip())


def declare(name: str, text: str) -> Declarations | None:
    """The longhands one declaration sets; None if its value is invalid (see ``expand``)."""
    if name.startswith("--"):
        return ((name, text),)
    if "var(" in text.lower():
        if name not in PROPERTIES and name not in SHORTHANDS:
            return ()
        return tuple((lh, Pending(name, text)) for lh in SHORTHANDS.get(name, (name,)))
    return expand(name, text)


def _block(declarations: Iterable[tuple[str, str | None, bool]], notes: list[str]) -> Block:
    normal: list[tuple[str, Value]] = []
    important: list[tuple[str, Value]] = []
    for name, text, is_important in declarations:
        if not name.startswith("--"):
            name = name.lower()
        longhands = None if text is None else declare(name, text)
        if longhands is None:
            notes.append(f"value not understood: {name}: {short(text or '…')}")
        else:
            (important if is_important else normal).extend(longhands)
            if name in _NOTED:
                notes.append(f"{name} ignored")
    return Block(tuple(normal), tuple(important), tuple(notes))


def _parse_content(content: Any) -> Block:
    found: list[tuple[str, str | None, bool]] = []
    notes: list[str] = []
    nodes = tinycss2.parse_blocks_contents(content, skip_comments=True, skip_whitespace=True)
    for node in nodes:
        if node.type == "declaration":
            found.append((node.name, _css_text(node.value), node.important))
        elif node.type == "error":
            notes.append(f"broken CSS skipped: {short(node.message)}")
        else:
            notes.append("nested rule ignored")
    return _block(found, notes)


def parse_inline(text: str) -> Block:
    """Parse the value of a ``style`` attribute (CSS Style Attributes 1)."""
    return _parse_inline(text) if len(text) <= LONG else _parse_inline.__wrapped__(text)


@lru_cache(maxsize=8192)
def _parse_inline(text: str) -> Block:
    if _SIMPLE_RE.fullmatch(text):
        pairs = [item.partition(":") for item in text.split(";") if item.strip()]
        if all(colon and ":" not in value for _, colon, value in pairs):
            return _block([(n.strip(), v.strip(), False) for n, _, v in pairs], [])
    return _parse_content(text)


class _Node(cssselect2.ElementWrapper):  # type: ignore[misc]
    """Walks to ancestors and siblings one by one.

    The base class builds a tuple per element by recursion, which overflows the stack at a
    thousand siblings and takes memory quadratic in them.
    """

    steps: ClassVar[Iterator[int]]
    """Ends when :data:`MAX_STEPS` have been taken; of the class that :func:`_nodes` makes."""

    @property
    def ancestors(self) -> Iterator[Any]:
        node = self.parent
        while node is not None:
            self._step()
            yield node
            node = node.parent

    @property
    def previous_siblings(self) -> Iterator[Any]:
        node = self.previous
        while node is not None:
            self._step()
            yield node
            node = node.previous

    def _step(self) -> None:
        # Selectors such as "g g g g" may try every choice of ancestors.
        if next(self.steps, None) is None:
            raise _too_long()


def _nodes(root: etree._Element) -> Iterator[Any]:
    """Yield the elements under ``root`` in document order, in cssselect2's terms."""
    counting: Any = type("_CountingNode", (_Node,), {"steps": iter(range(MAX_STEPS))})
    nodes: Iterator[Any] = counting.from_xml_root(root).iter_subtree()
    return nodes


def _too_long() -> InputError:
    return InputError("the style sheets take too long to match", hint="remove unused styles")


def _compiled(selectors: Any, namespaces: Mapping[str | None, str]) -> list[Any] | None:
    """Return a compiled selector list, given as text or tokens; None if it can't be used."""
    try:
        compiled: list[Any] = cssselect2.compile_selector_list(selectors, namespaces)
    except Exception:
        # Besides SelectorError, the compiler lets through whatever its generated code or its
        # unfinished branches raise; in all cases the selector is one we can't use.
        return None
    return compiled


def matching(root: etree._Element, selector: str) -> list[etree._Element] | None:
    """Return the elements under ``root`` that a selector list picks; None if it can't be used."""
    compiled = _compiled(selector, {})
    if compiled is None:
        return None
    matcher = cssselect2.Matcher()
    for one in compiled:
        matcher.add_selector(one, None)
    return [node.etree_element for node in _nodes(root) if matcher.match(node)]


@dataclass
class Sheets:
    """All style sheets of one document, ready to match."""

    notes: Notes
    _matcher: Any = field(default_factory=cssselect2.Matcher)
    _selectors: int = 0
    _namespaces: dict[str | None, str] = field(default_factory=dict)

    def read(self, root: etree._Element) -> None:
        """Read the ``style`` elements under ``root`` in document order.

        Raises:
            InputError: more than 5,000,000 characters or 20,000 selectors of CSS.
        """
        size = 0
        for element in root.iter(f"{{{SVG}}}style"):
            kind = element.get("type", "").split(";")[0].strip().lower()
            if kind not in ("", "text/css"):
                self.notes.add(f"style sheet of type {short(kind)} ignored")
                continue
            if not _media_applies(element.get("media", "")):
                self.notes.add(f"style sheet for media {short(element.get('media', ''))} ignored")
                continue
            # Comments in the XML are no part of the sheet, the text around them is.
            text = (element.text or "") + "".join(child.tail or "" for child in element)
            size += len(text)
            if size > MAX_SHEET_CHARACTERS:
                raise InputError(
                    f"the style sheets hold more than {MAX_SHEET_CHARACTERS:,} characters",
                    element=element.get("id"),
                    hint="remove unused styles",
                )
            # @namespace speaks for its own sheet only (CSS Namespaces 3 §2).
            self._namespaces = {}
            self._add_rules(tinycss2.parse_stylesheet(text, True, True), 0)

    def _add_rules(self, rules: Iterable[Any], depth: int) -> None:
        for rule in rules:
            if rule.type == "qualified-rule":
                self._add_style_rule(rule)
            elif rule.type == "at-rule":
                self._add_at_rule(rule, depth)
            elif rule.type == "error":
                self.notes.add(f"broken CSS skipped: {short(rule.message)}")

    def _add_style_rule(self, rule: Any) -> None:
        self._selectors += 1 + sum(token == "," for token in rule.prelude)
        if self._selectors > MAX_SELECTORS:
            raise InputError(
                f"the style sheets hold more than {MAX_SELECTORS:,} selectors",
                hint="remove unused styles",
            )
        selectors = _compiled(rule.prelude, self._namespaces)
        if selectors is None:
            self.notes.add(f"selector not understood: {short(_css_text(rule.prelude) or '…')}")
            return
        block = _parse_content(rule.content)
        for note in block.notes:
            self.notes.add(note)
        for selector in selectors:
            if selector.pseudo_element is None:
                self._matcher.add_selector(selector, block)

    def _add_at_rule(self, rule: Any, depth: int) -> None:
        name = rule.lower_at_keyword
        prelude = _css_text(rule.prelude) or ""
        if name == "media" and rule.content is not None and depth < _MAX_DEPTH:
            if _media_applies(prelude):
                self._add_rules(tinycss2.parse_rule_list(rule.content, True, True), depth + 1)
            else:
                self.notes.add(f"@media {short(prelude)} ignored")
        elif name == "namespace":
            tokens = [t for t in rule.prelude if t.type not in ("whitespace", "comment")]
            target = tokens[-1] if tokens else None
            if target is not None and target.type == "function" and target.arguments:
                target = target.arguments[0]
            if target is not None and target.type in ("url", "string"):
                self._namespaces[tokens[0].value if len(tokens) > 1 else None] = target.value
        elif name not in ("charset", "font-face"):
            self.notes.add(f"@{short(name)} ignored")

    def match(self, root: etree._Element) -> list[tuple[Block, ...]] | None:
        """For each element under ``root`` in document order, the blocks of the rules that
        match it, lowest specificity first; None if there are no rules.

        Raises:
            InputError: too many selectors would have to be tried on too many elements.
        """
        if not self._selectors:
            return None
        matcher, tests = self._matcher, 0
        result: list[tuple[Block, ...]] = []
        for node in _nodes(root):
            tests += len(matcher.other_selectors)
            tests += len(matcher.lower_local_name_selectors.get(node.local_name.lower(), ()))
            tests += sum(len(matcher.class_selectors.get(name, ())) for name in node.classes)
            if tests > MAX_TESTS:
                raise _too_long()
            result.append(tuple(block for *_, block in matcher.match(node)))
        return result


def _media_applies(query: str) -> bool:
    parts = [part.strip().removeprefix("only ").strip() for part in query.lower().split(",")]
    return any(part in ("", "all", "screen") for part in parts)
