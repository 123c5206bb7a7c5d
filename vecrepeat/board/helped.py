"""The side of a helper's process: answers requests on what was sent last to work on."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Mapping
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.util.inbox import answer_objects


def answer_requests(work: Mapping[str, Callable[[Any, Any, Any], Any]]) -> None:
    """Answer messages until the pipe in ends.

    A message is what to work on, or what is to be done on it, the moment and what was asked; the
    answer is the result or the error.

    Args:
        work: what can be done, by name.
    """
    held: Any = None

    def answered(asked: Any) -> Any:
        nonlocal held
        if not isinstance(asked, tuple):
            held = asked
            return None
        what, state, settings = asked
        assert held is not None
        try:
            return work[what](held, state, settings)
        except InputError as error:
            return InputError(str(error))
        except MemoryError:
            return InputError("there is not enough memory for that", hint="ask for less")
        except Exception:
            return RuntimeError(traceback.format_exc())

    answer_objects(answered)
