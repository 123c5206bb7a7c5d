"""The process beside the board's that looks, tosses and fills; started by its helper.

Every message is :data:`~vecrepeat.util.worker.MESSAGE` (bytes that follow) and a pickle: a
source, or what is to be done on it, the moment and what was asked. The answer is
:data:`~vecrepeat.util.worker.ANSWER` and the result or the error, pickled.
"""

from __future__ import annotations

import os
import pickle
import sys
import traceback
from typing import Any

from vecrepeat.batch.lane_worker import Inbox
from vecrepeat.board.looking import looked
from vecrepeat.board.tossing import filled, tossed
from vecrepeat.core.errors import InputError
from vecrepeat.sources.source import Source
from vecrepeat.util.worker import ANSWER

WORK = {"look": looked, "toss": tossed, "fill": filled}


def main() -> None:
    """Answer messages until the pipe in ends."""
    inbox = Inbox(sys.stdin.buffer)
    # Whatever gets printed must not get in among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    source: Source | None = None
    while message := inbox.take():
        asked = pickle.loads(message)
        answer: Any = None
        if isinstance(asked, Source):
            source = asked
        else:
            what, state, settings = asked
            assert source is not None
            try:
                answer = WORK[what](source, state, settings)
            except InputError as error:
                answer = InputError(str(error))
            except MemoryError:
                answer = InputError("there is not enough memory for that", hint="ask for less")
            except Exception:
                answer = RuntimeError(traceback.format_exc())
        data = pickle.dumps(answer)
        inbox.done()
        answers.write(ANSWER.pack(isinstance(answer, Exception), len(data)))
        answers.write(data)
        answers.flush()


if __name__ == "__main__":
    main()
