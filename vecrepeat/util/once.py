"""Properties worked out once, where several threads ask for them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import cached_property
from typing import Any, Self, TypeVar, overload

_T = TypeVar("_T")


class each(cached_property[_T]):  # noqa: N801  # used as a decorator
    """A ``cached_property`` that no two instances wait for: up to 3.11 all of them share a lock."""

    @overload
    def __get__(self, instance: None, owner: type[Any] | None = None) -> Self: ...

    @overload
    def __get__(self, instance: object, owner: type[Any] | None = None) -> _T: ...

    def __get__(self, instance: object, owner: type[Any] | None = None) -> _T | Self:
        """Return the value, working it out if nobody has."""
        if instance is None:
            return self
        return self._value(instance)

    def _value(self, instance: object) -> _T:
        values, name = vars(instance), self.func.__name__
        if name not in values:
            values[name] = self.func(instance)
        value: _T = values[name]
        return value


class once(each[_T]):  # noqa: N801  # used as a decorator
    """A ``cached_property`` that makes threads wait for the first; from 3.12 on it no longer does.

    One lock serves all instances, so it suits what few objects have.
    """

    def __init__(self, function: Callable[[Any], _T]) -> None:
        super().__init__(function)
        self._turn = threading.RLock()

    def _value(self, instance: object) -> _T:
        with self._turn:
            return super()._value(instance)
