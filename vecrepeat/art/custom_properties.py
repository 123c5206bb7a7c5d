"""Custom properties and ``var()`` (CSS Variables 1): inheritance, cycles, bounded expansion."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
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


class _InvalidError(ValueError):
    """A value that is invalid at computed-value time."""


@lru_cache(maxsize=4096)
def _tokens(text: str) -> tuple[Any, ...]:
    return tuple(tinycss2.parse_component_value_list(text, skip_comments=True))


def _var(arguments: list[Any]) -> tuple[str, list[Any] | None]:
    """Return the name and the fallback of one ``var()``."""
    comma = next((k for k, token in enumerate(arguments) if token == ","), len(arguments))
    words = [t for t in arguments[:comma] if t.type not in ("whitespace", "comment")]
    if len(words) != 1 or words[0].type != "ident" or not words[0].value.startswith("--"):
        raise _InvalidError
    return words[0].value, arguments[comma + 1 :] if comma < len(arguments) else None


ValueOf = Callable[[str, int], str | None]
"""Tells a custom property's value by its name, asked so deep within other values."""


def _parts(tokens: Iterable[Any], value_of: ValueOf, depth: int) -> Iterator[str]:
    """Yield the text of tokens with custom properties put in."""
    if depth > _MAX_DEPTH:
        raise _InvalidError
    for token in tokens:
        if token.type == "error":
            raise _InvalidError
        if token.type == "function" and token.lower_name == "var":
            name, fallback = _var(token.arguments)
            value = value_of(name, depth + 1)
            if value is not None:
                # Spaces keep the substituted tokens from fusing with their neighbours.
                yield f" {value} "
            elif fallback is None:
                raise _InvalidError
            else:
                yield from _parts(fallback, value_of, depth + 1)
        elif token.type == "function":
            yield f"{token.name}("
            yield from _parts(token.arguments, value_of, depth + 1)
            yield ")"
        elif token.type.endswith(" block"):
            yield token.type[0]
            yield from _parts(token.content, value_of, depth + 1)
            yield token.type[1]
        else:
            yield token.serialize()


def substitute(text: str, value_of: ValueOf, depth: int = 0) -> str | None:
    """Put custom properties in for the ``var()`` in ``text`` (CSS Variables 1 §3).

    Returns:
        The value, or None if it is invalid at computed-value time.

    Raises:
        TooLongError: the value would be longer than 10,000 characters.
    """
    if len(text) > MAX_EXPANSION:
        raise TooLongError
    if "var(" not in text.lower():
        return text
    found, size = [], 0
    try:
        for part in _parts(_tokens(text), value_of, depth):
            found.append(part)
            size += len(part)
            if size > MAX_EXPANSION:
                raise TooLongError
    except _InvalidError:
        return None
    return "".join(found).strip()


def compute_custom(
    own: Mapping[str, str], inherited: Mapping[str, str], notes: Notes
) -> dict[str, str]:
    """Return the computed custom properties of an element (CSS Variables 1 §2-3).

    Args:
        own: the custom properties cascaded on the element, as written.
        inherited: the computed ones of its parent.
        notes: told of values that are too long.

    Returns:
        All custom properties in force; those invalid (as in a cycle) are absent.
    """
    known: dict[str, str | None] = {}
    path: list[str] = []
    cyclic: set[str] = set()

    def value_of(name: str, depth: int) -> str | None:
        if name not in own:
            return inherited.get(name)
        if name in path:
            cyclic.update(path[path.index(name) :])
            return None
        if name not in known:
            path.append(name)
            value = worked_out(name, depth)
            path.pop()
            known[name] = None if name in cyclic else value
        return known[name]

    def worked_out(name: str, depth: int) -> str | None:
        if own[name].lower() in WIDE:
            return None if own[name].lower() == "initial" else inherited.get(name)
        try:
            return substitute(own[name], value_of, depth)
        except TooLongError:
            notes.add(f"value too long: {short(name)}")
            return None

    found = {**inherited, **{name: value_of(name, 0) for name in own}}
    return {name: value for name, value in found.items() if value is not None}
