"""A collection as a batch: every print, colourway and goods, under names with role and number."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image
from support import svg, vecrepeat

from vecrepeat.batch.jobs import jobs_of
from vecrepeat.batch.work import MANIFEST, run_batch
from vecrepeat.core.errors import InputError

ART = """<rect width="100" height="100" fill="#f2e8d5"/>
<g id="bloom"><circle cx="50" cy="50" r="30" fill="#cc3333"/></g>"""
COLLECTION = """name = "Meadow"
[palette]
paper = "#f2e8d5"
red = "#cc3333"
[[colourway]]
name = "dusk"
colours = { red = "#3366cc" }
[[colourway]]
name = "noon"
colours = { red = "#eecc11" }
[[print]]
name = "Spots"
role = "blender"
from = "art.svg"
width = "10mm"
colours = ["paper", "red"]
[[print]]
name = "Bloom"
role = "hero"
from = "art.svg"
colours = ["paper", "red"]
[[goods]]
name = "tile"
dpi = 50.8
[[goods]]
name = "cloth"
dpi = 25.4
sheet = "30x20mm"
"""


@pytest.fixture
def meadow(tmp_path: Path) -> Path:
    (tmp_path / "art.svg").write_text(svg(ART))
    file = tmp_path / "meadow.toml"
    file.write_text(COLLECTION)
    return file


def written(meadow: Path) -> dict[str, int]:
    """A batch of a collection: how much was written and kept, and sizes by file name."""
    out = meadow.parent / "out"
    done = run_batch(jobs_of([meadow], out), out, processes=1)
    assert done.failed == ()
    return {"written": done.written, "kept": done.kept}


def test_every_print_colourway_and_goods(meadow: Path) -> None:
    assert written(meadow) == {"written": 12, "kept": 0}
    assert written(meadow) == {"written": 0, "kept": 12}
    folder = meadow.parent / "out" / "meadow"
    assert sorted(p.name for p in folder.iterdir())[:6] == [
        "01-hero-bloom-cloth.png",
        "01-hero-bloom-dusk-cloth.png",
        "01-hero-bloom-dusk-tile.png",
        "01-hero-bloom-noon-cloth.png",
        "01-hero-bloom-noon-tile.png",
        "01-hero-bloom-tile.png",
    ]
    with Image.open(folder / "02-blender-spots-dusk-tile.png") as tile:
        # 10 mm at two pixels to the mm, the bloom in the middle.
        assert tile.size == (20, 20)
        assert tile.convert("RGB").getpixel((10, 10)) == (0x33, 0x66, 0xCC)
    with Image.open(folder / "02-blender-spots-cloth.png") as cloth:
        assert cloth.size == (30, 20)
    manifest = json.loads((meadow.parent / "out" / MANIFEST).read_text())
    assert {(one["role"], one["colourway"]) for one in manifest["files"]} == {
        (role, way) for role in ("hero", "blender") for way in ("as drawn", "dusk", "noon")
    }


def test_only_what_a_change_reaches_is_written_again(meadow: Path) -> None:
    def keys() -> dict[str, str]:
        return {job.file: job.key for job in jobs_of([meadow], meadow.parent / "out")}

    before = keys()
    for old, new, reached in (
        ("#3366cc", "#3366dd", 4),  # one colourway of two prints, in two goods
        ('width = "10mm"', 'width = "12mm"', 6),  # one print in three colourways
        ("#f2e8d5", "#f2e8d6", 12),  # the palette
        ("sheet", "sheet", 0),
        ("30x20mm", "40x20mm", 6),  # one of the goods
    ):
        meadow.write_text(meadow.read_text().replace(old, new))
        after = keys()
        assert sum(after[file] != before[file] for file in before) == reached
        before = after


def test_names_by_a_pattern_and_one_print_alone(meadow: Path) -> None:
    meadow.write_text('files = "{collection} {name} {role}"\n' + meadow.read_text())
    out = meadow.parent / "out"
    jobs = jobs_of([meadow / "spots"], out, only=["dusk"])
    assert [Path(job.file).relative_to(out).as_posix() for job in jobs] == [
        "meadow/meadow-spots-blender-dusk-tile.png",
        "meadow/meadow-spots-blender-dusk-cloth.png",
    ]
    done = vecrepeat("batch", meadow / "spots", "-o", out, "--colourway", "dusk", "--dry-run")
    assert "2 files" in done.out


@pytest.mark.parametrize("pattern", ["{role}", "{number}-{artist}", "{name!r}", "{number:>3}", "{"])
def test_a_pattern_that_is_none(meadow: Path, pattern: str) -> None:
    meadow.write_text(f'files = "{pattern}"\n' + meadow.read_text())
    with pytest.raises(InputError, match="line 1: files: expected a pattern such as"):
        jobs_of([meadow], meadow.parent / "out")
