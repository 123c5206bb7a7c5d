"""First recipes of loose motifs: sizes that belong together, and a ground."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image, ImageDraw
from real_art import emoji_files
from support import svg

from vecrepeat.core.colours import lightness
from vecrepeat.core.units import Size
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe
from vecrepeat.sources.source import Source, open_source

INCH10 = Size(Fraction(254), Fraction(254))


def petals(count: int, colour: str = "#c33") -> str:
    """A flower: the more petals, the more there is to see."""
    turned = "".join(
        f'<path d="M50 50Q35 20 50 5Q65 20 50 50z" fill="{colour}" stroke="#311" '
        f'transform="rotate({360 * k / count:.3f} 50 50)"/>'
        for k in range(count)
    )
    return turned + '<circle cx="50" cy="50" r="9" fill="#fc3"/>'


def started(folder: Path, files: dict[str, str], **how: object) -> Source:
    """Write drawings into a folder, a first recipe of it, and read that."""
    loose = folder / "loose"
    loose.mkdir(exist_ok=True)
    for name, text in files.items():
        (loose / f"{name}.svg").write_text(text, encoding="utf-8")
    recipe = folder / "r.toml"
    recipe.unlink(missing_ok=True)
    start_recipe([loose], recipe, layout=Layout(), **how)  # type: ignore[arg-type]
    return open_source(recipe, placed=False)


def longer(source: Source) -> dict[str, float]:
    return {k: max(m.box.width, m.box.height) for k, m in source.pool.motifs.items()}


def flowers(counts: Sequence[int], pages: Sequence[str]) -> dict[str, str]:
    sides = [pages[k % len(pages)] for k in range(len(counts))]
    rows = enumerate(zip(counts, sides, strict=True))
    return {
        f"f{k}": svg(petals(count), width=side, height=side, view_box="0 0 100 100")
        for k, (count, side) in rows
    }


def test_sizes_go_by_what_there_is_to_see_and_not_by_the_page(tmp_path: Path) -> None:
    """Heroes are a third of the tile, secondaries half of that, fillers a quarter, or nearly."""
    counts = [24, 18, 8, 7, 6, 3, 2, 1]
    source = started(tmp_path, flowers(counts, ["32px", "300mm", "10in"]))
    ranks = list(source.ranks.values())
    assert [ranks[0], ranks[-1]] == ["hero", "filler"]
    assert set(ranks) == {"hero", "secondary", "filler"}
    sizes = longer(source)
    for rank, share in (("hero", 3), ("secondary", 6), ("filler", 12)):
        lengths = [sizes[name] for name, is_rank in source.ranks.items() if is_rank == rank]
        # Thin ones may be a quarter longer; those of a rank differ by a tenth at most.
        assert all(0.89 * 254 / share <= one <= 1.38 * 254 / share for one in lengths)
        assert len(lengths) == 1 or len({round(one, 1) for one in lengths}) > 1
    other = started(tmp_path, flowers(counts, ["40cm", "72pt"]))
    assert longer(other) == pytest.approx(sizes, rel=0.03)


def test_proportions_are_kept(tmp_path: Path) -> None:
    tall = svg('<rect x="40" y="5" width="20" height="80" fill="#284"/>')
    motif = started(tmp_path, {"tall": tall}).pool.motifs["tall"]
    assert motif.box.height == pytest.approx(4 * motif.box.width, rel=1e-3)
    assert 254 / 3 < motif.box.height <= 1.25 * 254 / 3 * 1.01


def test_the_tile_rules_the_sizes(tmp_path: Path) -> None:
    files = flowers([20, 8, 3], ["80mm"])
    small = started(tmp_path, files, tile=Size(Fraction(100), Fraction(300)))
    assert longer(small)["f0"] == pytest.approx(
        100 / 3 * longer(started(tmp_path, files))["f0"] / (254 / 3), rel=0.01
    )


def test_more_motifs_than_the_ladder_holds_are_all_smaller(tmp_path: Path) -> None:
    files = {f.stem: f.read_text(encoding="utf-8") for f in emoji_files()[500:610]}
    source = started(tmp_path, files)
    painted = sum(motif.outline.area for motif in source.pool.motifs.values())
    assert painted < 0.46 * 254 * 254
    assert {"hero", "secondary", "filler"} == set(source.ranks.values())
    fillers = [size for name, size in longer(source).items() if source.ranks[name] == "filler"]
    assert sum(fillers) / len(fillers) < 254 / 12


def test_as_drawn_leaves_sizes_alone(tmp_path: Path) -> None:
    files = flowers([20, 3], ["32px", "300mm"])
    source = started(tmp_path, files, as_drawn=True)
    assert source.recipe is not None
    assert not any("width" in row for row in source.recipe.motifs.values())
    assert source.recipe.arranged["toss"]["density"] == "medium"


def test_pictures_of_few_pixels_are_made_less_large(tmp_path: Path) -> None:
    folder = tmp_path / "loose"
    folder.mkdir()
    for name, side in (("coarse", 90), ("fine", 900)):
        picture = Image.new("RGBA", (side, side))
        ImageDraw.Draw(picture).ellipse((2, 2, side - 3, side - 3), fill="#257", outline="#f80")
        picture.save(folder / f"{name}.png", dpi=(300, 300))
    source = started(tmp_path, {})
    assert source.ranks["fine"] == "hero"
    # 900 px are 152 mm at 150 to the inch: enough for any rank. 90 px are 15 mm.
    assert longer(source)["fine"] == pytest.approx(254 / 3, rel=0.03)
    assert longer(source)["coarse"] < 0.15 * 254


@pytest.mark.parametrize(
    ("paint", "kinds"),
    [("#fffdf5", {"dark", "mid"}), ("#16130f", {"light", "mid"}), ("#c03a2b", {"light"})],
)
def test_a_ground_is_proposed_that_motifs_stand_out_from(
    tmp_path: Path, paint: str, kinds: set[str]
) -> None:
    body = f'<circle cx="50" cy="50" r="40" fill="{paint}"/>'
    source = started(tmp_path, {"a": svg(body), "b": svg(body.replace("40", "20"))})
    ground = source.page.ground
    assert ground is not None
    assert abs(lightness(ground.colour) - lightness(paint)) > 12
    text = source.file.read_text(encoding="utf-8")
    assert any(f"# {ground.colour} is {kind}, in a hue" in text for kind in kinds)
    assert 'to "none" for bare cloth' in text


def test_a_drawing_without_a_ground_stays_bare_and_is_told_of_one(tmp_path: Path) -> None:
    page, recipe = tmp_path / "page.svg", tmp_path / "p.toml"
    page.write_text(svg('<circle cx="50" cy="50" r="20" fill="#369"/>'), encoding="utf-8")
    start_recipe([page], recipe, layout=Layout())
    assert open_source(recipe).page.ground is None
    assert 'ground = "none" # #' in recipe.read_text(encoding="utf-8")


def test_no_motif_sinks_into_the_ground_of_the_others(tmp_path: Path) -> None:
    # White motifs would have a dark ground, into which the one of slate would sink, and out of
    # which nothing stands by as much as a ratio of 1.5.
    body = '<circle cx="50" cy="50" r="{}" fill="{}"/>'
    files = {f"white {k}": svg(body.format(20 + 4 * k, "#fdfdfd")) for k in range(4)}
    dark = started(tmp_path, files).page.ground
    assert dark is not None
    assert lightness(dark.colour) < 40
    ground = started(tmp_path, {**files, "slate": svg(body.format(40, "#323b44"))}).page.ground
    assert ground is not None
    for paint in ("#fdfdfd", "#323b44"):
        assert abs(lightness(ground.colour) - lightness(paint)) > 20


def test_a_card_is_no_hero_among_free_shapes(tmp_path: Path) -> None:
    """The card has most to see of all; cut out round, it leads them."""
    files = flowers([9, 8, 7, 6, 5], ["80mm"])
    for name, shape in (
        ("card", '<rect x="5" y="5" width="90" height="90" rx="5" fill="#357"/>'),
        ("disc", '<circle cx="50" cy="50" r="47" fill="#357"/>'),
    ):
        ranks = started(tmp_path, {**files, name: svg(shape + petals(12))}).ranks
        assert (ranks[name] == "hero") == (name == "disc")
        (tmp_path / "loose" / f"{name}.svg").unlink()


def test_hairlines_are_made_larger_until_they_print(tmp_path: Path) -> None:
    # Fillers of lines are 24 to 29 mm wide; lines of 8 in 92 are 2 mm there, those of 0.8 become
    # just wide enough, and those of 0.25 do not, in motifs 1.6 times as large.
    ring = '<circle cx="50" cy="50" r="{}" fill="none" stroke="#222" stroke-width="{}"/>'
    files = flowers([20, 16, 14, 12, 10, 8], ["100mm"] * 6)
    files |= {f"ring {w}": svg(ring.format(46 - w / 2, w)) for w in (0.8, 0.25, 8)}
    sizes = longer(started(tmp_path, files))
    assert 0.8 / 92 * sizes["ring 0.8"] == pytest.approx(0.25, abs=0.005)
    assert 1.6 * 23.7 < sizes["ring 0.25"] < 1.6 * 29.2
    assert 23.7 < sizes["ring 8"] < 29.2
