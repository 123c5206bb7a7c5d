"""The command line as a process that runs one command after another, for the board's jobs.

A message is a folder and the words of a command that is run in it; the answer is what it printed.
So a job's result is the command's own, to the byte.
"""

from __future__ import annotations

import io
import os
import traceback
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from typing import Any

from vecrepeat.cli import main
from vecrepeat.cli.progress import watched
from vecrepeat.core.allowance import hold_memory
from vecrepeat.util.inbox import Tell, answer_telling

_FAILED, _NOTED = ("vecrepeat: ", "failed: "), "note: "
"""How lines on standard error begin."""


def run(asked: tuple[str, Sequence[str]], tell: Tell) -> dict[str, Any]:
    """Run a command; return its ``code``, ``lines``, ``notes`` and ``error``, "" where all is well.

    Args:
        asked: the folder, and the command's words without the program.
        tell: called with what is done, how much of it is and how much there is to do.
    """
    folder, words = asked
    # Whatever a result says of files it says as one who types the command there.
    os.chdir(folder)
    out, err = io.StringIO(), io.StringIO()
    code: object = 1
    try:
        with (
            redirect_stdout(out),
            redirect_stderr(err),
            watched(lambda *work: tell(work)),
        ):
            main(words)
    except SystemExit as end:
        code = end.code
    except Exception:
        # A fault of ours in one job must not take the others along.
        err.write(f"{_FAILED[0]}{traceback.format_exc(limit=-1).splitlines()[-1]}\n")
    said = err.getvalue().splitlines()
    errors = [line.removeprefix(_FAILED[0]) for line in said if line.startswith(_FAILED)]
    return {
        "code": code,
        "lines": out.getvalue().splitlines(),
        "notes": [line.removeprefix(_NOTED) for line in said if line.startswith(_NOTED)],
        "error": "; ".join(errors),
    }


if __name__ == "__main__":
    hold_memory()
    answer_telling(run)
