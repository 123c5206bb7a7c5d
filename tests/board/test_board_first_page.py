"""The first page in a real browser: from dropped drawings to a first cloth, and back again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import (
    Board,
    board_of,
    cloth_pixels,
    colour_at,
    drop,
    faults_of,
    looked_at,
    near,
    rested,
    station,
    write_art,
)
from support import svg, vecrepeat

from vecrepeat.sources.source import open_source

SHAPES = {
    "disc": '<circle cx="50" cy="50" r="30" fill="#c02020"/>',
    "square": '<rect x="30" y="30" width="50" height="50" fill="#2040c0"/>',
    "bar": '<rect x="30" y="10" width="9" height="70" fill="#1f6f3a"/>',
}


def write_motifs(folder: Path) -> list[Path]:
    """Write loose motifs and two files that are none; return them all."""
    folder.mkdir(parents=True)
    for name, shape in SHAPES.items():
        (folder / f"{name}.svg").write_text(svg(shape))
    (folder / "torn.svg").write_text("<svg")
    (folder / "notes.txt").write_text("no art")
    return sorted(folder.iterdir())


@pytest.fixture
def work(tmp_path: Path) -> Path:
    (tmp_path / "work").mkdir()
    return tmp_path / "work"


@pytest.fixture
def board(work: Path) -> Iterator[Board]:
    with board_of(work) as found:
        yield found


def test_drawings_become_a_cloth_that_is_the_command_line_s_to_the_byte(
    chromium: Any, board: Board, work: Path, tmp_path: Path
) -> None:
    files = write_motifs(tmp_path / "mine")
    before = {file: file.read_bytes() for file in files}
    page = looked_at(chromium.new_page(), board)
    page.set_input_files("#files", [str(file) for file in files])
    page.fill("#title", "Three Shapes")
    page.click("#begin")
    # What stays out says why beside its name, and the rest comes in.
    page.wait_for_selector("#told:has-text('on the shelf')", timeout=60_000)
    told = {
        item.inner_text().split("\n")[0]: item.inner_text()
        for item in page.locator("#laid li").all()
    }
    assert "no art" in told["notes.txt"]
    assert "not a well-formed SVG" in told["torn.svg"]
    assert all("1 motif" in told[f"{name}.svg"] for name in SHAPES)
    folder = work / "three-shapes"
    assert sorted(p.name for p in (folder / "art").glob("[!.]*")) == [
        f"{name}.svg" for name in sorted(SHAPES)
    ]
    assert {file: file.read_bytes() for file in files} == before
    # The same by command, elsewhere.
    other = tmp_path / "other"
    (other / "art").mkdir(parents=True)
    for name in SHAPES:
        (other / "art" / f"{name}.svg").write_text(svg(SHAPES[name]))
    recipe = other / "three-shapes.toml"
    assert vecrepeat("recipe", other / "art", "-o", recipe, "--density", "medium").code == 0
    assert vecrepeat("toss", recipe).code == 0
    assert (folder / "three-shapes.toml").read_bytes() == recipe.read_bytes()
    # From the shelf to its cloth; a changed drawing dropped there is seen; and back.
    page.wait_for_selector("#shelf img")
    page.click("[data-design='three-shapes/three-shapes.toml']")
    page.wait_for_selector("body[data-ready] #cloth")
    changed = tmp_path / "mine" / "square.svg"
    changed.write_text(svg(SHAPES["square"].replace("#2040c0", "#f08010")))
    drop(page, changed)
    page.wait_for_function(
        "() => window.board?.store.data.pictures.motifs.square.markup.includes('#f08010')"
    )
    page.wait_for_selector("body[data-ready]")
    rested(page)
    assert (cloth_pixels(page)[..., :3] == (0xF0, 0x80, 0x10)).all(axis=2).any()
    # One of another name comes in as a motif, ranked as the others are; a torn one does not.
    late = tmp_path / "mine" / "late.svg"
    late.write_text(svg(SHAPES["bar"]))
    drop(page, late)
    page.wait_for_function("() => window.board?.store.motifs.get('late')?.rank")
    page.wait_for_selector("body[data-ready]")
    assert page.locator("#motifs [data-motif=late]").count() == 1
    drop(page, tmp_path / "mine" / "torn.svg")
    page.wait_for_selector("#told.grave:has-text('torn.svg')")
    assert not (folder / "art" / "torn.svg").exists()
    page.click("#label .home")
    page.wait_for_selector("#shelf img")
    page.close()


def test_a_page_is_never_another_folder_s(board: Board, work: Path, tmp_path: Path) -> None:
    outside = write_art(tmp_path)
    (work / "sly.toml").symlink_to(outside)
    for design in ("../three.toml", str(outside), "sly.toml", "%2e%2e/three.toml"):
        assert board.ask(f"/api/cloth?design={design}")[0] == 400, design
        assert board.ask(f"/api/picture?design={design}")[0] == 400, design
    for folder in ("..", "../work", "/tmp", "none/../.."):
        status = board.ask(f"/api/drop?design=&folder={folder}&name=a.svg&what=page", {})[0]
        assert status == 400, folder
        asked: dict[str, Any] = {"folder": folder, "what": "page", "settings": {}}
        assert board.ask("/api/begin?design=", asked)[0] == 400, folder
        assert board.ask("/api/giveup?design=", {"folder": folder})[0] == 400, folder
    assert board.ask("/api/takeup?design=", {"drawing": "../art.svg"})[0] == 400
    assert not (tmp_path / ".three.toml.board").exists()


def test_nobody_is_shut_out_of_the_first_page(
    chromium: Any, board: Board, work: Path, tmp_path: Path
) -> None:
    write_art(work)
    files = [str(file) for file in write_motifs(tmp_path / "mine")]
    context = chromium.new_context(bypass_csp=True)
    page = context.new_page()
    # The narrowest; python tests/board/tasks looks at three sizes.
    page.set_viewport_size({"width": 390, "height": 844})
    looked_at(page, board)
    page.wait_for_selector("#shelf img")
    page.set_input_files("#files", files)
    assert faults_of(page) == {}
    # Laying down puts the focus where the next key is wanted.
    assert page.evaluate("document.activeElement.id") == "begin"
    context.close()


def test_tile_and_ground_are_steps_that_the_recipe_keeps(chromium: Any, tmp_path: Path) -> None:
    recipe = write_art(tmp_path)
    before = recipe.read_text()
    with board_of(recipe) as found:
        page = looked_at(chromium.new_page(), found)
        station(page, "tile")
        page.select_option("#units", "in")
        page.fill("#tilewidth", "5")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.table.lie.tile[0] === 127")
        page.fill("#groundcode", "#102030")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.store.ground[0] === '#102030'")
        rested(page)
        assert near(colour_at(page, 5, 5), "#102030")
        assert 'tile = "5inx100mm"' in page.inner_text("#tilesaid")
        page.click("#save")
        page.wait_for_selector("#standing:text-is('Saved')")
        saved = open_source(recipe).repeat
        assert float(saved.width) == 127
        assert saved.ground is not None
        assert saved.ground.colour == "#102030"
        # Twice as wide as a whole: everything grows, and where it lies with it.
        page.fill("#wholewidth", "10")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.table.lie.tile[0] === 254")
        disc = page.evaluate("board.store.rows.find(row => row.motif === 'disc')")
        width = page.evaluate("board.store.now.motifs.disc.width")
        assert (disc["at"], disc["scale"], width) == ([40, 100], 1, 40)
        for _ in range(3):
            page.click("#undo")
        page.click("#save")
        page.wait_for_selector("#standing:text-is('Saved')")
        assert recipe.read_text() == before
        page.close()
