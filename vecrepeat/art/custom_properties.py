"""Custom properties and ``var()`` (CSS Variables 1): inheritance, cycles, bounded expansion."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

import tinycss2

from vecrepeat.art.css_values import WIDE

#: The most characters a value may have once its ``var()`` are put in.
MAX_EXPANSION = 10_000
_MAX_DEPTH = 50
_MAX_NOTES = 100


class Notes:
    """Collects what was ignored: each message once, in order, at most 100."""

    def __init__(self) -> None:
        self._seen: dict[str, None] = {}

    def add(self, message: str) -> None:
        """Keep ``message`` unless it is known already or there are too many."""
        if len(self._seen) < _MAX_NOTES:
            self._seen.setdefault(message)

    def __iter__(self) -> Iterator[str]:
        return iter(self._seen)


def short(text: str) -> str:
    """``text`` on one line of at most 60 characters."""
    text = " ".join(text.split())
    return text if len(text) <= 60 else text[:59] + "…"


class TooLongError(ValueError):
    """A value that grows past ``MAX_EXPANSION`` characters when its ``var()`` are put in."""


@lru_cache(maxsize=4096)
def _tokens(text: str) -> tuple[Any, ...]:
    return tuple(tinycss2.parse_component_value_list(text, skip_comments=True))


def _var(arguments: list[Any]) -> tuple[str, list[Any] | None] | None:
    """Name and fallback of one ``var()``; None if malformed."""
    items = list(arguments)
    while items and items[0].type in ("whitespace", "comment"):
        items.pop(0)
    if not items or items[0].type != "ident" or not items[0].value.startswith("--"):
        return None
    name: str = items.pop(0).value
    while items and items[0].type in ("whitespace", "comment"):
        items.pop(0)
    if not items:
        return name, None
    return (name, items[1:]) if items[0] == "," else None


class _Expansion:
    """The text of one value while its ``var()`` are being put in."""

    def __init__(self, variables: Mapping[str, str]) -> None:
        self.variables = variables
        self.parts: list[str] = []
        self.size = 0

    def add(self, part: str) -> None:
        self.size += len(part)
        if self.size > MAX_EXPANSION:
            raise TooLongError
        self.parts.append(part)

    def walk(self, tokens: Iterable[Any], depth: int = 0) -> bool:
        """Add the tokens; False if the value turns out invalid."""
        if depth > _MAX_DEPTH:
            return False
        for token in tokens:
            if token.type == "error":
                return False
            if token.type == "function" and token.lower_name == "var":
                var = _var(token.arguments)
                if var is None:
                    return False
                if var[0] in self.variables:
                    # Spaces keep the substituted tokens from fusing with their neighbours.
                    self.add(f" {self.variables[var[0]]} ")
                elif var[1] is None or not self.walk(var[1], depth + 1):
                    return False
            elif token.type == "function":
                self.add(f"{token.name}(")
                if not self.walk(token.arguments, depth + 1):
                    return False
                self.add(")")
            elif token.type.endswith(" block"):
                self.add(token.type[0])
                if not self.walk(token.content, depth + 1):
                    return False
                self.add(token.type[1])
            else:
                self.add(token.serialize())
        return True


def substitute(text: str, variables: Mapping[str, str]) -> str | None:
    """Put custom properties in for the ``var()`` in ``text`` (CSS Variables 1 §3).

    Args:
        text: a value as written.
        variables: computed custom properties by name.

    Returns:
        The value, or None if it is invalid at computed-value time.

    Raises:
        TooLongError: the value would be longer than 10,000 characters.
    """
    if len(text) > MAX_EXPANSION:
        raise TooLongError
    expansion = _Expansion(variables)
    return "".join(expansion.parts).strip() if expansion.walk(_tokens(text)) else None


def _references(tokens: Iterable[Any], depth: int = 0) -> Iterator[str]:
    """Names of all custom properties mentioned, those in unused fallbacks too."""
    for token in tokens:
        if token.type == "function" or token.type.endswith(" block"):
            inside = token.arguments if token.type == "function" else token.content
            var = _var(inside) if token.type == "function" and token.lower_name == "var" else None
            if var is not None:
                yield var[0]
            if depth < _MAX_DEPTH:
                yield from _references(inside, depth + 1)


def compute_custom(
    own: Mapping[str, str], inherited: Mapping[str, str], notes: Notes
) -> dict[str, str]:
    """The computed custom properties of an element (CSS Variables 1 §2-3).

    Args:
        own: the custom properties cascaded on the element, as written.
        inherited: the computed ones of its parent.
        notes: told of values that are too long.

    Returns:
        All custom properties in force; those invalid (as in a cycle) are absent.
    """
    result = {name: value for name, value in inherited.items() if name not in own}
    cyclic: set[str] = set()
    done: set[str] = set()
    path: list[str] = []

    def visit(name: str) -> None:
        if name in path or len(path) >= _MAX_DEPTH:
            cyclic.update(path[path.index(name) if name in path else 0 :])
            return
        if name in done or name not in own:
            return
        text = own[name]
        wide = text.lower()
        if wide in WIDE:
            if wide != "initial" and name in inherited:
                result[name] = inherited[name]
        elif len(text) > MAX_EXPANSION:
            notes.add(f"value too long: {short(name)}")
        else:
            path.append(name)
            if "var(" in wide:
                for reference in _references(_tokens(text)):
                    visit(reference)
            path.pop()
            if name not in cyclic:
                try:
                    value = substitute(text, result) if "var(" in wide else text
                except TooLongError:
                    notes.add(f"value too long: {short(name)}")
                    value = None
                if value is not None:
                    result[name] = value
        done.add(name)

    for name in own:
        visit(name)
    return result
