"""``vecrepeat spec``: a design's facts on one page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given
from vecrepeat.cli.progress import progress


@options.over_source(
    options.output("The sheet to write: .pdf, .png or .svg."),
    options.REPEAT_WIDTH,
    options.LIMITS,
)
def spec(given: Given, output: Path, **asked: Any) -> Answer:
    """Write the facts of SRC on one page: repeat, layout, match, direction, colours, cautions."""
    from vecrepeat.check.findings import QUESTIONS
    from vecrepeat.proof.proving import specify

    source = given.opened()
    with progress(str(output), len(QUESTIONS)) as step:
        done = specify(source, output, step=step, **asked)
    return Answer(done.as_dict(), [done.line()], done.notes)
