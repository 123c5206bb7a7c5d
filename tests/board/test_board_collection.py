"""A collection on the board: steps in its file, what a finger moves, blenders, the page."""

from __future__ import annotations

import base64
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browsing import board_of, faults_of, looked_at
from numpy.typing import NDArray
from PIL import Image
from support import vecrepeat

from vecrepeat.board.collection_desk import CollectionDesk, Shelved
from vecrepeat.board.collection_work import blend, dress, picture, shares
from vecrepeat.board.desk import ConflictError
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import read_collection

SIZES = ((390, 844), (820, 1180), (1400, 900))


def pixels(data: bytes) -> NDArray[np.float64]:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(float)


def test_a_colour_is_one_step_in_the_file_and_undoing_gives_its_bytes_back(meadow: Path) -> None:
    meadow.write_text(meadow.read_text().replace('"#c04030"', '"#c04030"   # as the poppies are'))
    before = meadow.read_text()
    desk = CollectionDesk(meadow)
    desk.recolour(0, "as drawn", "poppy", "#d05030")
    assert meadow.read_text() == before.replace('"#c04030"', '"#d05030"')
    desk.recolour(1, "Dusk", "cream", "#ffe0e0")
    assert read_collection(meadow).palette_in("Dusk")["cream"] == "#ffe0e0"
    assert read_collection(meadow).palette["cream"] == "#f0e0c0"
    with pytest.raises(ConflictError):
        desk.recolour(1, "Dusk", "cream", "#000000")
    desk.turn(2, -1)
    desk.turn(3, -1)
    assert meadow.read_text() == before
    desk.turn(4, 1)
    assert "#d05030" in meadow.read_text()


@pytest.mark.parametrize(
    ("way", "name", "colour"),
    [("Dawn", "ink", "#000000"), ("Dusk", "x", "#000000"), ("Dusk", "ink", "blue")],
)
def test_what_is_no_colour_of_it_changes_nothing(
    meadow: Path, way: str, name: str, colour: str
) -> None:
    before = meadow.read_bytes()
    with pytest.raises(InputError):
        CollectionDesk(meadow).recolour(0, way, name, colour)
    assert meadow.read_bytes() == before


def test_what_others_write_is_taken_up_and_never_written_over(meadow: Path) -> None:
    desk = CollectionDesk(meadow)
    text = meadow.read_text()
    meadow.write_text(text.replace("#102040", "#112244"))
    with pytest.raises(ConflictError):
        desk.recolour(0, "as drawn", "poppy", "#d05030")
    assert desk.look()
    assert desk.collection.palette["ink"] == "#112244"
    meadow.write_text("name = [")
    assert desk.look()
    assert desk.fault
    meadow.write_text(text)
    assert desk.look()
    assert not desk.fault
    (meadow.parent / "dots.svg").touch()
    assert desk.look()
    assert desk.version > 0
    assert not desk.look()


def test_a_moved_colour_is_what_it_is_once_written(meadow: Path) -> None:
    shelved, text = Shelved(meadow, ()), meadow.read_text()
    asked = {"way": "Dusk", "scale": 7.5}
    rows = dress(shelved, text, asked)["prints"]
    # Ink, cream and poppy: bands are of the first two, dots of the last two.
    assert [row["uses"] for row in rows] == [[0, 1], [1, 2]]
    assert rows[1]["block"] == [10, 10]
    for number, (name, was) in enumerate({"cream": "#f0e0c0", "poppy": "#20a0a0"}.items(), 1):
        one = {**asked, "print": "dots", "group": 0}
        share = pixels(shares(shelved, text, one))[..., number] / 255
        here = pixels(picture(shelved, text, one))
        desk = CollectionDesk(meadow)
        desk.recolour(0, "Dusk", name, "#804060")
        there = pixels(picture(shelved, desk.now, one))
        moved = here + share[..., None] * (rgb_of("#804060").astype(float) - rgb_of(was))
        assert 0.05 < share.mean() < 0.95
        assert np.abs(moved - there).max() <= 1.5
        desk.turn(1, -1)


def test_a_blender_that_is_tried_wears_the_palette(meadow: Path) -> None:
    shelved, text = Shelved(meadow, ()), meadow.read_text()
    asked = {"kind": "stripes", "told": {"widths": ["10mm"]}, "way": "Dusk", "scale": 1}
    found = blend(shelved, text, {**asked, "colours": ["poppy"], "ground": "ink"})
    seen = pixels(base64.b64decode(found["picture"])).reshape(-1, 3)
    shown = {tuple(int(v) for v in one) for one in seen}
    assert {tuple(rgb_of("#20a0a0").tolist()), tuple(rgb_of("#403020").tolist())} <= shown
    with pytest.raises(InputError):
        blend(shelved, text, {**asked, "colours": ["rose"], "ground": "ink"})


def test_a_blender_goes_into_a_collection_in_colours_of_its_palette(meadow: Path) -> None:
    out = meadow.parent / "pips.toml"
    words = ("blender", "dots", "-o", out, "--into", meadow, "--ground", "#102040")
    refused = vecrepeat(*words, "--colours", "#123456")
    assert refused.code == 2
    assert "#123456" in refused.err
    assert not out.exists()
    assert vecrepeat(*words, "--colours", "#c04030").code == 0
    one = read_collection(meadow).print_of("pips")
    assert (one.role, one.file) == ("blender", out)
    assert vecrepeat("export", f"{meadow}/pips", "-o", meadow.parent / "a.png").code == 0
    again = vecrepeat("blender", "dots", "-o", meadow.parent / "b" / "pips.toml", "--into", meadow)
    assert again.code == 2


def test_the_page_moves_a_colour_keeps_a_blender_and_writes_what_commands_write(
    chromium: Any, meadow: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    for file in (meadow, *meadow.parent.glob("*.svg")):
        (other / file.name).write_bytes(file.read_bytes())
    with board_of(meadow) as board:
        page = chromium.new_context(bypass_csp=True).new_page()
        looked_at(page, board)
        assert page.locator("figcaption strong").all_inner_texts() == ["Bands", "Dots"]
        page.click("[data-way=Dusk]")
        page.click("#maincolours [data-key=poppy]")
        page.wait_for_function("() => board.table.pieces.get('dots').tinted")
        page.fill("#mixcode", "#108060")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.store.standing.undo")
        page.click("#newblender")
        page.select_option("#kind", "checks")
        page.wait_for_selector(".hero + .tried")
        page.wait_for_selector("#keep:not([disabled])")
        said = page.inner_text("#blendersaid code")
        page.click("#keep")
        page.wait_for_function("() => board.store.data.prints.length === 3")
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            assert faults_of(page) == {}, width
        page.context.close()
    words = said.split()
    assert words[:2] == ["vecrepeat", "blender"]
    line = other / meadow.name
    line.write_text(line.read_text().replace('poppy = "#20a0a0"', 'poppy = "#108060"'))
    options = [word.strip("'") for word in words[2:]]
    options = [str(other / one) if one.endswith(".toml") else one for one in options]
    assert vecrepeat("blender", *options).code == 0
    assert meadow.read_bytes() == line.read_bytes()
    assert (meadow.parent / "checks.toml").read_bytes() == (other / "checks.toml").read_bytes()


def test_a_folder_that_is_a_collections_opens_on_it_and_the_first_page_shows_it(
    chromium: Any, meadow: Path
) -> None:
    meadow.rename(meadow.with_name("collection.toml"))
    with board_of(meadow.parent) as board:
        assert "collection.html?design=collection.toml" in board.address
        status, _, told = board.ask("/api/home?design=")
        assert status == 200
        (one,) = json.loads(told)["collections"]
        assert (one["title"], one["prints"]) == ("Meadow & co", 2)
        assert board.ask("/api/cloth")[0] == 400
