"""``vecrepeat screen``: a repeat against a rotary screen."""

from __future__ import annotations

from fractions import Fraction

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option


@options.over_source(
    option(
        "--circumference",
        type=options.LENGTH,
        default="640mm",
        show_default=True,
        help="Of the screen.",
    ),
    option(
        "--width",
        "printed",
        type=options.LENGTH,
        default="1500mm",
        show_default=True,
        help="That the screen prints.",
    ),
    options.REPEAT_WIDTH,
    options.REPEAT_HEIGHT,
)
def screen(
    given: Given,
    circumference: Fraction,
    printed: Fraction,
    width: Fraction | None,
    height: Fraction | None,
) -> Answer:
    """Tell whether SRC's repeat goes round a rotary screen, and the next size that does."""
    from vecrepeat.draw.plan import printed_size
    from vecrepeat.goods.screens import on_screen

    source = given.opened()
    tile = printed_size(source.repeat, width, height)
    found = on_screen(source.repeat.layout, tile, circumference, printed)
    return Answer(found.as_dict(), found.lines(), source.notes)
