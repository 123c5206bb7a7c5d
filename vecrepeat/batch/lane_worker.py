"""The process of a batch that runs one job after another; started by :mod:`vecrepeat.batch.lanes`.

Every message is :data:`~vecrepeat.util.inbox.MESSAGE` (bytes that follow) and a JSON object: a
``job`` and the receiver's ``limits``, or null. The answer is
:data:`~vecrepeat.util.inbox.ANSWER` and in JSON the file's record, or the one line that says why
there is none.
"""

from __future__ import annotations

import json

from vecrepeat.batch.jobs import Job, Limits
from vecrepeat.batch.running import attempt
from vecrepeat.util.inbox import answer_all


def main() -> None:
    """Answer messages until the pipe in ends."""
    answer_all(_result)


def _result(message: bytes) -> tuple[bool, bytes]:
    asked = json.loads(message)
    limits = asked["limits"]
    if limits is not None:
        limits = Limits(**{**limits, "formats": tuple(limits["formats"])})
    result = attempt(Job(**asked["job"]), limits)
    return isinstance(result, str), json.dumps(result).encode()


if __name__ == "__main__":
    main()
