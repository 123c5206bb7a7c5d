"""``vecrepeat compose``: the repeat as an SVG file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option


@options.over_source(
    options.output("The SVG file to write."),
    option(
        "--sheet",
        type=options.SIZE,
        help="Fill a sheet of this size, such as 54x36in, instead of one straight block.",
    ),
    options.REPEAT_WIDTH,
    options.REPEAT_HEIGHT,
    option(
        "--inline",
        is_flag=True,
        help="Write every copy out, for programs that ignore <use> inside patterns.",
    ),
    option(
        "--tile-only", is_flag=True, help="Write one finished tile as a plain drawing, no pattern."
    ),
)
def compose(given: Given, output: Path, **asked: Any) -> Answer:
    """Write the seamless repeat of SRC as an SVG pattern.

    Motifs that cross the page's edges or corners come in again on the other side.
    """
    from vecrepeat.write import composing

    source = given.opened()
    done = composing.compose(source.repeat, output, **asked)
    return Answer(done.as_dict(), [done.line()], source.notes)
