"""Make the pictures of the pages on arranging.

Usage: python docs/make_arranging_pictures.py [FOLDER]
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from contextlib import chdir
from dataclasses import replace
from pathlib import Path

from PIL import Image

import vecrepeat
from vecrepeat.arrange import (
    DitsySettings,
    RankSettings,
    SetSettings,
    StripeSettings,
    TossSettings,
    TrailSettings,
    lay_ditsy,
    lay_set,
    lay_stripes,
    lay_trail,
    toss,
)
from vecrepeat.arrange.drawn_paths import motif_lines
from vecrepeat.colour.lineup import swatch
from vecrepeat.proof.trials import try_seeds
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.sources.first import default_tile, first_recipe
from vecrepeat.sources.source import open_source, read_pool

DOCS = Path(__file__).parent
DEMO = DOCS.parent / "demo-svg"
SIDE, GAP = 460, 12

STEMS = """<svg xmlns="http://www.w3.org/2000/svg" width="254mm" height="254mm"
 viewBox="0 0 254 254"><g id="stems" fill="none" stroke="#8aae98" stroke-width="1.5">
<path d="M64 0C4 52 20 88 64 127S124 202 64 254"/><path d="M191 254C131 202 147 166 191 127\
S251 52 191 0"/></g></svg>"""

HEROES = ("Luna moth", "Emperor moth", "Blue emperor moth, banking", "Hawk-moth")
FLOWERS = (
    "Evening primrose, open flower",
    "Poppy seed heads",
    "Honesty seed pods",
    "Umbel seed head",
    "Dandelion clock",
)
LEAVES = (
    "Blue fern sprig",
    "Evening primrose, half-open flower",
    "Dusky leaf sprig",
    "Small umbel",
    "Poppy seed head",
)
SMALL = ("Yellow moth", "Rose moth, banking", "Cream moth")


def ranked(art: vecrepeat.Art, **names: tuple[str, ...]) -> list[tuple[Motif, str]]:
    """Return motifs by their names, with ranks."""
    known = {motif.name: motif for motif in art.motifs}
    return [(known[name], rank) for rank, some in names.items() for name in some]


def beside(cloths: list[tuple[Repeat, float]]) -> Image.Image:
    """Return squares of cloth in rows of two, each so many tiles wide."""
    rows = -(-len(cloths) // 2)
    image = Image.new("RGB", (2 * SIDE + GAP, rows * (SIDE + GAP) - GAP), "#fbfaf7")
    for n, (cloth, across) in enumerate(cloths):
        picture = swatch(cloth, SIDE, SIDE, across)
        image.paste(picture, (n % 2 * (SIDE + GAP), n // 2 * (SIDE + GAP)))
    return image


def ordered(garden: vecrepeat.Art, stems: vecrepeat.Art) -> Image.Image:
    """Return a set, a stripe, a trail and a ditsy."""
    drop, block = garden.repeat("half-drop"), garden.repeat("block")
    large = ranked(garden, hero=HEROES, secondary=FLOWERS, filler=SMALL)
    grid = lay_set(drop, large, SetSettings(columns=3, rows=3, clearance=4.0, seed=5))
    stripes = ranked(garden, hero=HEROES[:2], secondary=LEAVES, filler=SMALL[:2])
    rows = lay_stripes(drop, stripes, StripeSettings(clearance=4.0, times=2, flip=True))
    growing = ranked(garden, secondary=(FLOWERS[0], *LEAVES), filler=SMALL)
    paths = [line for stem in stems.motifs for line in motif_lines(stem)]
    along = lay_trail(block, growing, paths, TrailSettings(clearance=1.5, scale=0.85, flip=True))
    drawn = tuple(Placement(stem) for stem in stems.motifs)
    trailing = replace(block, placements=(*drawn, *along.placements))
    everything = [(motif, "filler") for motif in garden.motifs]
    ditsy = lay_ditsy(drop, everything, DitsySettings(size=30.0, spacing=0.75, seed=2))
    return beside(
        [(grid.on(drop), 1.6), (rows.on(drop), 1.6), (trailing, 1.6), (ditsy.on(drop), 1.2)]
    )


def mirrored(garden: vecrepeat.Art) -> Image.Image:
    """Return tosses on a turnover and on a plane group."""
    motifs = ranked(garden, hero=HEROES[:3], secondary=(*FLOWERS, *LEAVES), filler=SMALL)
    turnover, group = garden.repeat("half-drop+turnover-across"), garden.repeat("p4mm")
    asked = TossSettings(
        clearance=2.5,
        seed=4,
        hero=RankSettings(count=4),
        secondary=RankSettings(count=14),
        filler=RankSettings(count=12),
    )
    small = replace(
        asked,
        clearance=1.5,
        hero=RankSettings(count=2, scale=(0.5, 0.6)),
        secondary=RankSettings(count=8, scale=(0.4, 0.6)),
        filler=RankSettings(count=5, scale=(0.5, 0.7)),
    )
    over = toss(turnover, motifs, asked).on(turnover)
    return beside([(over, 0.8), (toss(group, motifs, small).on(group), 1.6)])


def trials(folder: Path) -> Image.Image:
    """Return a sheet of trials, smaller."""
    pool = read_pool([DEMO / "night-garden.svg"])
    text = first_recipe(
        "night-garden",
        pool,
        art=[str(DEMO / "night-garden.svg")],
        loose=[],
        tile=default_tile(pool),
        layout="half-drop",
        as_drawn=True,
    )
    asked = {"heroes": 5, "secondaries": 10, "fillers": 12, "clearance": 2.0}
    with chdir(folder):
        recipe = Path("meadow.toml")
        recipe.write_text(text, encoding="utf-8")
        done = try_seeds(open_source(recipe), Path(), asked, 6)
        sheet = Image.open(done.files[1])
        sheet.load()
    with sheet:
        return sheet.convert("RGB").resize((sheet.width // 2, sheet.height // 2), Image.LANCZOS)


def lane(folder: Path) -> Image.Image:
    """Return a lane that is found, and the cloth with fillers in it."""
    commands = (
        ("recipe", str(DEMO / "pomegranate.svg"), "-o", "damask.toml", "--layout", "half-drop"),
        ("check", "damask.toml", "--only", "alleys", "--picture", "before.png"),
        ("fill", "damask.toml", "--clearance", "8mm"),
        ("check", "damask.toml", "--only", "alleys", "--picture", "after.png"),
    )
    with chdir(folder):
        # 1 says that something was found.
        codes = [
            subprocess.run([sys.executable, "-m", "vecrepeat", *command], check=False).returncode
            for command in commands
        ]
        assert codes == [0, 1, 0, 0], codes
        cloths = [Image.open(name).convert("RGB") for name in ("before.png", "after.png")]
    height = 560
    parts = []
    for cloth in cloths:
        # Without its legend.
        part = cloth.crop((28, 28, 732, 900))
        parts.append(part.resize((round(part.width * height / part.height), height), Image.LANCZOS))
    sheet = Image.new("RGB", (sum(p.width for p in parts) + GAP, height), "white")
    sheet.paste(parts[0], (0, 0))
    sheet.paste(parts[1], (parts[0].width + GAP, 0))
    return sheet


def main() -> None:
    """Write every picture to FOLDER, ``docs/pictures`` by default."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    garden = vecrepeat.read_art(DEMO / "night-garden.svg")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "stems.svg"
        file.write_text(STEMS, encoding="utf-8")
        stems = vecrepeat.read_art(file)
        made = {
            "ordered": ordered(garden, stems),
            "toss-turned": mirrored(garden),
            "trials": trials(Path(folder)),
            "lane": lane(Path(folder)),
        }
    for name, image in made.items():
        image.quantize(256, dither=Image.Dither.NONE).save(out / f"{name}.png", optimize=True)
        print(out / f"{name}.png")


if __name__ == "__main__":
    main()
