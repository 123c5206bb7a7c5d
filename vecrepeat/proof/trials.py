"""The trials workflow: one toss under many seeds, the best of them side by side."""

from __future__ import annotations

import math
import shlex
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

from vecrepeat.arrange import Arrangement
from vecrepeat.arrange.arranging import arranged_page, asked_over, ranked_motifs, toss_settings
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect, number
from vecrepeat.core.units import counted
from vecrepeat.proof.drawing import HAIR, INK, SOFT, SheetBox, line, n, rect, text
from vecrepeat.proof.seeds import toss_seeds, with_placements
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.sources.source import Source
from vecrepeat.util.files import final_place, write_together
from vecrepeat.util.imagefiles import png_of
from vecrepeat.write.svg import Motifs, document

MOST = 60
"""The most trials on one sheet."""

DRAWN, MOST_DRAWN = 60, 1000
"""How many seeds are drawn where nothing says it, and at most."""

TILES = 2
"""Tiles across and down in each picture: all joins show."""

_SIDE = 100.0
"""Each picture is as large as a square of so many mm."""

_MARGIN, _GAP, _HEAD, _LABEL = 14.0, 10.0, 24.0, 25.0
_SMALL, _WHY = 3.0, 3
"""Height of small letters, and the lines that say why a trial scores."""

_PIXELS_PER_MM = 6
_PAPER = "#fbfaf7"


class Trial(NamedTuple):
    """One seed and its toss.

    Attributes:
        seed: the seed.
        tossed: what it came to.
    """

    seed: int
    tossed: Arrangement

    @property
    def points(self) -> int:
        """Its score; 0 where there is too little, or too much, to score."""
        return 0 if self.tossed.score is None else self.tossed.score.points

    @property
    def name(self) -> str:
        """What it is called below its picture."""
        scored = "" if self.tossed.score is None else f" · {self.points} points"
        return f"seed {self.seed}{scored}"

    @property
    def why(self) -> str:
        """What its score is made of, in plain words."""
        return "" if self.tossed.score is None else self.tossed.score.words

    @property
    def facts(self) -> str:
        """The figures below its picture."""
        count = counted(len(self.tossed.rows), "motif")
        gaps = self.tossed.evenness
        return (
            f"{count}, {self.tossed.coverage:.0%} painted, "
            f"gaps {gaps.nearest_mean:.1f} ± {gaps.nearest_spread:.1f} mm"
        )


@dataclass(frozen=True, eq=False)
class Trials:
    """What was written.

    Attributes:
        files: the sheet as SVG and as PNG.
        trials: in the order of the sheet, the best first.
        boxes: where their pictures are on the sheet, as shares of its sides: left, top, width
            and height.
        drawn: how many seeds they were chosen from.
        take: the command that takes one, ``SEED`` for its seed.
        notes: what could not be placed and why, a sentence each.
    """

    files: tuple[Path, Path]
    trials: tuple[Trial, ...]
    boxes: tuple[tuple[float, float, float, float], ...]
    drawn: int
    take: str
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        where = " and ".join(map(str, self.files))
        chosen = f"the best {len(self.trials)} of " if self.drawn > len(self.trials) else ""
        listed = "".join(f"\n{one.name}: {one.why}" for one in self.trials if one.why)
        count = counted(self.drawn, "trial")
        return f"{where}: {chosen}{count}{listed}\ntake one: {self.take}"

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "files": [str(file) for file in self.files],
            "trials": [
                {
                    "seed": trial.seed,
                    "picture": [round(side, 6) for side in box],
                    "placed": len(trial.tossed.rows),
                    "coverage": round(trial.tossed.coverage, 5),
                    **trial.tossed.evenness.as_dict(),
                    "score": None if (one := trial.tossed.score) is None else one.as_dict(),
                }
                for trial, box in zip(self.trials, self.boxes, strict=True)
            ],
            "drawn": self.drawn,
            "take": self.take,
            "notes": list(self.notes),
        }


def try_seeds(
    source: Source,
    folder: Path,
    asked: Mapping[str, Any],
    count: int,
    *,
    drawn: int = DRAWN,
    step: Callable[[int], None] | None = None,
) -> Trials:
    """Toss a source's motifs under many seeds and write one sheet of those that score best.

    Args:
        source: a recipe or drawing that has been read; its placements are of no account.
        folder: where ``trials.svg`` and ``trials.png`` go.
        asked: ``[toss]`` keys that go before the recipe's own; ``seed`` is the first of them.
        count: how many to show.
        drawn: how many seeds to choose from; never fewer than are shown.
        step: called with 1 after each toss.

    Raises:
        InputError: settings that make no sense, or files that can't be written.
    """
    if not 1 <= count <= MOST:
        raise InputError(f"{count} trials are out of range (1 to {MOST})")
    drawn = max(count, drawn)
    if drawn > MOST_DRAWN:
        raise InputError(f"{drawn} seeds are out of range (1 to {MOST_DRAWN:,})")
    recipe = source.recipe
    keys = asked_over(recipe.arranged["toss"] if recipe else {}, asked)
    page, ranked = arranged_page(source), ranked_motifs(source)
    settings = toss_settings(keys, page, ranked, source)
    first = asked.get("seed", 1)
    files = (folder / "trials.svg", folder / "trials.png")
    for file in files:
        final_place(file)
    seeds = range(first, first + drawn)
    tosses = toss_seeds(page, ranked, settings, seeds, step or (lambda _: None))
    trials = [Trial(seed, tosses[seed]) for seed in seeds]
    trials = sorted(trials, key=lambda trial: (-trial.points, trial.seed))[:count]
    trials = [
        Trial(seed, with_placements(tossed, page, ranked, settings)) for seed, tossed in trials
    ]
    take = _take(source, {key: value for key, value in asked.items() if key != "seed"})
    plan = _Plan.of(page, count)
    sheet = _svg(source, page, trials, plan, take, drawn).encode()
    write_together({files[0]: sheet, files[1]: _png(source, page, trials, plan, take, drawn)})
    notes = dict.fromkeys(note for trial in trials for note in trial.tossed.notes)
    told = {
        note: [str(trial.seed) for trial in trials if note in trial.tossed.notes] for note in notes
    }
    said = (
        f"{note} ({'seed' if len(told[note]) == 1 else 'seeds'} {', '.join(told[note])})"
        for note in notes
    )
    return Trials(files, tuple(trials), plan.shares(), drawn, take, tuple(said))


def _take(source: Source, asked: Mapping[str, Any]) -> str:
    """Return the command that takes a trial."""
    recipe = source.recipe
    name = str(source.file) if recipe else f"{source.file.stem}.toml"
    words = ["vecrepeat", "toss", name]
    # A recipe without placements loses none.
    words += ["--again"] if recipe is None or recipe.placements else []
    for key, value in asked.items():
        if isinstance(value, bool):
            words.append(f"--{key}" if value else f"--no-{key}")
        elif isinstance(value, tuple):
            words += [f"--{key}", "-".join(f"{v:g}" for v in value)]
        elif key in ("clearance", "apart"):
            words += [f"--{key}", f"{number(value)}mm"]
        else:
            words += [f"--{key}", str(value)]
    said = f"{shlex.join(words)} --seed SEED"
    if recipe is None:
        first = shlex.join(["vecrepeat", "recipe", str(source.file), "-o", name])
        return f"{first}, then {said}"
    return said


class _Plan(NamedTuple):
    """Where everything lies on the sheet, in mm."""

    width: float
    height: float
    scale: float
    boxes: tuple[SheetBox, ...]

    def shares(self) -> tuple[tuple[float, float, float, float], ...]:
        """Return the boxes as shares of the sheet's sides."""
        w, h = self.width, self.height
        return tuple((b.x / w, b.y / h, b.width / w, b.height / h) for b in self.boxes)

    @classmethod
    def of(cls, page: Repeat, count: int) -> _Plan:
        """Return the plan of a sheet for so many trials."""
        ratio = float(page.height / page.width)
        wide, high = _SIDE / math.sqrt(ratio), _SIDE * math.sqrt(ratio)
        # About as wide as a screen.
        columns = max(1, min(count, round(math.sqrt(count * 4 / 3 * high / wide))))
        rows = math.ceil(count / columns)
        boxes = tuple(
            SheetBox(
                _MARGIN + k % columns * (wide + _GAP),
                _MARGIN + _HEAD + k // columns * (high + _LABEL + _GAP),
                wide,
                high,
            )
            for k in range(count)
        )
        return cls(
            2 * _MARGIN + columns * (wide + _GAP) - _GAP,
            2 * _MARGIN + _HEAD + rows * (high + _LABEL + _GAP) - _GAP,
            wide / (TILES * float(page.width)),
            boxes,
        )


class _Words(NamedTuple):
    """A line of text on the sheet, its baseline at (x, y)."""

    x: float
    y: float
    said: str
    size: float
    ink: str
    bold: bool = False


def _words(
    source: Source, trials: Sequence[Trial], plan: _Plan, take: str, drawn: int
) -> Iterator[_Words]:
    count = counted(drawn, "trial")
    if drawn > len(trials):
        count = f"the best {len(trials)} of {count}"
    about = f"{count} of a toss, layout {source.layout}, {TILES} by {TILES} tiles each"
    yield _Words(_MARGIN, _MARGIN + 6, source.name, 8.0, INK, True)
    # What is too long for the sheet is set smaller.
    room = plan.width - 2 * _MARGIN
    for y, said in ((12.4, about), (17.4, f"take one: {take}")):
        yield _Words(_MARGIN, _MARGIN + y, said, min(3.6, room / len(said) * 1.8), SOFT)
    for trial, box in zip(trials, plan.boxes, strict=True):
        yield _Words(box.x, box.bottom + 6.4, trial.name, 5.2, INK, True)
        # Letters are half as wide as high, or a little more.
        wide = max(int(box.width / _SMALL * 1.8), len(trial.why) // _WHY + 12)
        lines = textwrap.wrap(trial.why, wide)
        for k, said in enumerate([trial.facts, *lines]):
            size = min(_SMALL, box.width / len(said) * 1.8)
            yield _Words(box.x, box.bottom + 10.8 + 3.9 * k, said, size, SOFT)


def _ticks(box: SheetBox) -> Iterator[tuple[float, float, float, float]]:
    """Yield short lines beside a picture where tiles meet."""
    for k in range(1, TILES):
        x, y = box.x + box.width * k / TILES, box.y + box.height * k / TILES
        yield (x, box.y - 2.6, x, box.y - 0.8)
        yield (x, box.bottom + 0.8, x, box.bottom + 2.6)
        yield (box.x - 2.6, y, box.x - 0.8, y)
        yield (box.right + 0.8, y, box.right + 2.6, y)


def _cloth(source: Source, page: Repeat, trial: Trial) -> Repeat:
    """Return a trial's cloth, on its patterned ground where the recipe has one."""
    under = tuple(p for p in source.repeat.placements if p.motif.is_ground)
    cloth = trial.tossed.on(page)
    if not under:
        return cloth
    return replace(cloth, placements=(*under, *cloth.placements), symmetry=None)


def _svg(
    source: Source, page: Repeat, trials: Sequence[Trial], plan: _Plan, take: str, drawn: int
) -> str:
    """Return the sheet as an SVG document: each motif once, and where it lies in each trial."""
    placements = tuple(p for trial in trials for p in _cloth(source, page, trial).placements)
    motifs = Motifs(replace(page, placements=placements))
    colour = "#ffffff" if page.ground is None else page.ground.colour
    shown = Rect(0.0, 0.0, TILES * float(page.width), TILES * float(page.height))
    body = [rect(SheetBox(0, 0, plan.width, plan.height), fill=_PAPER)]
    clips = []
    for trial, box in zip(trials, plan.boxes, strict=True):
        key = motifs.fresh(f"seed-{trial.seed}")
        clips.append(
            f'<clipPath id="{key}"><rect x="{n(box.x)}" y="{n(box.y)}" '
            f'width="{n(box.width)}" height="{n(box.height)}"/></clipPath>\n'
        )
        cloth = _cloth(source, page, trial)
        copied = motifs.used(cloth, copies(cloth, shown))
        body.append(
            f'<g clip-path="url(#{key})">{rect(box, fill=colour)}\n'
            f'<g transform="translate({number(box.x)} {number(box.y)}) '
            f'scale({number(plan.scale)})">\n{copied}</g></g>\n'
        )
        body.append(rect(box, stroke=HAIR, width=0.15))
        body += [line(*tick, 0.2, SOFT) for tick in _ticks(box)]
    for words in _words(source, trials, plan, take, drawn):
        weight = "bold" if words.bold else "normal"
        body.append(
            text(words.x, words.y, words.said, words.size, fill=words.ink, weight=weight) + "\n"
        )
    definitions = f"{motifs.definitions()}{''.join(clips)}"
    content = f'<g font-family="sans-serif">{"".join(body)}</g>\n'
    width, height = (Fraction(round(1000 * side), 1000) for side in (plan.width, plan.height))
    return document(width, height, f"<defs>\n{definitions}</defs>\n{content}")


def _png(
    source: Source, page: Repeat, trials: Sequence[Trial], plan: _Plan, take: str, drawn: int
) -> bytes:
    """Return the sheet as a PNG file."""
    from PIL import Image, ImageDraw, ImageFont

    from vecrepeat.colour.lineup import swatch

    def px(value: float) -> int:
        return round(value * _PIXELS_PER_MM)

    sheet = Image.new("RGB", (px(plan.width), px(plan.height)), _PAPER)
    pen = ImageDraw.Draw(sheet)
    for trial, box in zip(trials, plan.boxes, strict=True):
        cloth = _cloth(source, page, trial)
        sheet.paste(swatch(cloth, px(box.width), px(box.height), TILES), (px(box.x), px(box.y)))
        outer = (px(box.x) - 1, px(box.y) - 1, px(box.right), px(box.bottom))
        pen.rectangle(outer, outline=HAIR)
        for tick in _ticks(box):
            pen.line([px(v) for v in tick], fill=SOFT, width=1)
    for words in _words(source, trials, plan, take, drawn):
        font = ImageFont.load_default(words.size * _PIXELS_PER_MM)
        at = (px(words.x), px(words.y))
        # The face that comes with Pillow has one weight.
        stroke = 0.5 if words.bold else 0
        pen.text(at, words.said, fill=words.ink, font=font, anchor="ls", stroke_width=stroke)
    return png_of(sheet)
