"""The process beside the board's that looks, tosses and fills; started by its helper.

Every message is :data:`~vecrepeat.util.inbox.MESSAGE` (bytes that follow) and a pickle: a
source, or what is to be done on it, the moment and what was asked. The answer is
:data:`~vecrepeat.util.inbox.ANSWER` and the result or the error, pickled.
"""

from __future__ import annotations

import pickle
import traceback
from typing import Any

from vecrepeat.board.looking import looked
from vecrepeat.board.tossing import filled, tossed
from vecrepeat.core.errors import InputError
from vecrepeat.sources.source import Source
from vecrepeat.util.inbox import answer_all

WORK = {"look": looked, "toss": tossed, "fill": filled}


def main() -> None:
    """Answer messages until the pipe in ends."""
    answer_all(_Answering())


class _Answering:
    """Does what is asked on the source that was sent last."""

    def __init__(self) -> None:
        self._source: Source | None = None

    def __call__(self, message: bytes) -> tuple[bool, bytes]:
        asked = pickle.loads(message)
        answer: Any = None
        if isinstance(asked, Source):
            self._source = asked
        else:
            what, state, settings = asked
            assert self._source is not None
            try:
                answer = WORK[what](self._source, state, settings)
            except InputError as error:
                answer = InputError(str(error))
            except MemoryError:
                answer = InputError("there is not enough memory for that", hint="ask for less")
            except Exception:
                answer = RuntimeError(traceback.format_exc())
        return isinstance(answer, Exception), pickle.dumps(answer)


if __name__ == "__main__":
    main()
