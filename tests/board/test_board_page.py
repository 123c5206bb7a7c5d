"""The page in a real browser: motifs wrap while carried, and what is seen is what is saved."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browsing import (
    DISC,
    LEAF,
    RECIPE,
    SQUARE,
    Board,
    board_of,
    canvas_pixels,
    carry,
    colour_at,
    faults_of,
    looked_at,
    near,
    page_against_export,
    rested,
    station,
    write_art,
)
from browsing import GROUND as GROUND_ART
from PIL import Image

from vecrepeat.board.desk import Desk
from vecrepeat.sources.source import open_source
from vecrepeat.write.exporting import Exporter

RED, BLUE, GROUND = "#c02020", "#2040c0", "#f4e8d0"


@pytest.fixture
def recipe(tmp_path: Path) -> Path:
    return write_art(tmp_path)


@pytest.fixture
def board(recipe: Path) -> Iterator[Board]:
    with board_of(recipe) as found:
        yield found


@pytest.fixture
def tab(chromium: Any, board: Board) -> Iterator[Any]:
    """A page at work; any error in it fails the test."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda line: errors.append(line.text) if line.type == "error" else None)
    looked_at(page, board)
    page.click("#snap")
    yield page
    context.close()
    # The browser itself writes down answers that refuse, and a server that is gone.
    known = ("400", "403", "409", "ERR_")
    assert not [error for error in errors if not any(word in error for word in known)]


def test_a_motif_carried_over_the_right_edge_comes_in_on_the_left_while_it_is_carried(
    tab: Any, recipe: Path, tmp_path: Path
) -> None:
    # Half-drop: what leaves the tile at (100, 40) comes in at (0, 40 − 50), and so at (0, 90).
    assert near(colour_at(tab, 3, 90), GROUND)
    carry(tab, (20, 50), (98, 40))
    assert near(colour_at(tab, 98, 40), RED)
    assert near(colour_at(tab, 3, 90), RED)
    assert near(colour_at(tab, 20, 50), GROUND)
    tab.mouse.up()
    rested(tab)
    assert near(colour_at(tab, 3, 90), RED)
    tab.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")
    saved = open_source(recipe).recipe
    assert saved is not None
    assert saved.placements[0].at == pytest.approx((98, 40), abs=0.5)
    assert page_against_export(tab, recipe, tmp_path) <= 1.0


def test_a_blender_lies_under_the_motifs_on_any_layout(
    tab: Any, recipe: Path, tmp_path: Path
) -> None:
    told = '\n[blender]\nkind = "stripes"\ncolours = ["#206040", "none"]\nwidths = ["10mm"]\n'
    recipe.write_text(recipe.read_text() + told)
    tab.wait_for_selector("#warning button")
    tab.click("#warning button >> nth=0")
    tab.wait_for_function("() => window.board?.store.data.blender && document.body.dataset.ready")
    rested(tab)
    assert near(colour_at(tab, 5, 5), "#206040")
    assert near(colour_at(tab, 15, 5), GROUND)
    assert page_against_export(tab, recipe, tmp_path) <= 1.0
    carry(tab, (20, 50), (25, 95))
    assert near(colour_at(tab, 5, 5), "#206040"), "while a motif is carried, too"
    tab.mouse.up()
    station(tab, "tile")
    tab.click("[data-kind=brick]")
    tab.wait_for_function("() => board.table.lie.name === 'brick'")
    rested(tab)
    tab.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")
    assert page_against_export(tab, recipe, tmp_path) <= 1.0


def test_a_motif_carried_over_a_corner_comes_in_at_all_that_meet_there(
    tab: Any, recipe: Path, tmp_path: Path
) -> None:
    station(tab, "tile")
    tab.click("[data-kind=block]")
    tab.wait_for_function("() => board.table.lie.name === 'block'")
    rested(tab)
    carry(tab, (48, 78), (99, 99))
    for x, y in [(96, 96), (104, 96), (96, 104), (104, 104), (2, 2), (2, 97), (97, 2)]:
        assert near(colour_at(tab, x, y), BLUE), (x, y)
    tab.mouse.up()
    rested(tab)
    tab.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")
    assert str(open_source(recipe).repeat.layout) == "block"
    assert page_against_export(tab, recipe, tmp_path) <= 1.0


@pytest.mark.parametrize("layout", ["brick+turnover-across", "p4mm"])
def test_turned_layouts_are_drawn_as_they_are_exported(
    tab: Any, recipe: Path, tmp_path: Path, layout: str
) -> None:
    tab.evaluate("layout => { board.table.relay(layout) }", layout)
    tab.wait_for_function("layout => board.table.lie.name === layout", arg=layout)
    rested(tab)
    tab.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")
    repeat = open_source(recipe).repeat
    tab.evaluate(
        """async () => {
            board.table.view.zx = board.table.view.zy = 5;
            await board.table.settle();
        }"""
    )
    w, h = tab.evaluate("board.table.cloth.cellPixels")
    assert (w, h) == (round(float(repeat.width) * 5), round(float(repeat.height) * 5))
    found = canvas_pixels(
        tab,
        """async () => {
            const whole = document.createElement('canvas');
            const { canvas } = board.table.cloth.still;
            [whole.width, whole.height] = [canvas.width, canvas.height];
            whole.getContext('2d').drawImage(canvas, 0, 0);
            return whole.toDataURL('image/png');
        }""",
    )
    assert found.shape == (h, w, 4)
    file = tmp_path / "cell.png"
    exporter = Exporter(repeat)
    exporter.write(str(file), exporter.sheet(exporter.plan(Fraction(127))))
    with Image.open(file) as image:
        printed = np.array(image.convert("RGBA"))
    assert printed.shape == found.shape
    alike = np.abs(found * (found[..., 3:] / 255.0) - printed * (printed[..., 3:] / 255.0))
    assert alike.mean() <= 1.0


BLENDED = (
    '<g id="veil"><circle cx="95" cy="50" r="22" fill="#c0e0a0" '
    'style="mix-blend-mode:multiply"/></g>'
)
FILTERED = (
    '<g id="cloud"><filter id="soft"><feGaussianBlur stdDeviation="2"/></filter>'
    '<circle cx="50" cy="98" r="12" fill="#703080" filter="url(#soft)"/></g>'
)


@pytest.mark.parametrize("more", [BLENDED, FILTERED], ids=["blended", "filtered"])
def test_art_that_blends_and_blurs_is_seen_as_it_is_exported(
    chromium: Any, tmp_path: Path, more: str
) -> None:
    plain = RECIPE[: RECIPE.index("placement")]
    recipe = write_art(tmp_path, plain, GROUND_ART + DISC + LEAF + SQUARE + more)
    with board_of(recipe) as found:
        page = looked_at(chromium.new_page(viewport={"width": 1280, "height": 800}), found)
        assert page_against_export(page, recipe, tmp_path) <= 1.0
        page.close()


def test_art_that_is_cut_to_its_region_is_cut_while_it_is_carried_too(
    chromium: Any, tmp_path: Path
) -> None:
    # pm draws its left half twice: the leaf, in the right half, is cut away but for a sliver.
    cut = RECIPE.replace('layout = "half-drop"', 'layout = "pm"\ncut-to-region = true')
    recipe = write_art(tmp_path, cut)
    with board_of(recipe) as found:
        page = looked_at(chromium.new_page(viewport={"width": 1280, "height": 800}), found)
        assert page_against_export(page, recipe, tmp_path) <= 1.0
        page.click("#snap")
        page.evaluate("board.table.refit()")
        rested(page)
        # Beyond the mirror at x = 50 the disc is cut away, and what is left is seen twice.
        carry(page, (20, 50), (58, 40))
        assert near(colour_at(page, 49, 40), RED)
        assert near(colour_at(page, 51, 40), RED)
        assert near(colour_at(page, 58, 40), GROUND)
        assert near(colour_at(page, 42, 40), GROUND)
        page.mouse.up()
        rested(page)
        page.click("#save")
        page.wait_for_selector("#standing:text-is('Saved')")
        assert page_against_export(page, recipe, tmp_path) <= 1.0
        page.close()


def test_undoing_to_the_start_and_saving_gives_the_bytes_that_were_there(
    tab: Any, recipe: Path
) -> None:
    before = recipe.read_bytes()
    carry(tab, (20, 50), (60, 60))
    tab.mouse.up()
    rested(tab)
    tab.locator("#cloth").focus()
    for key in ("f", ".", "g", "c", "o", "Delete"):
        tab.keyboard.press(key)
    tab.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")
    assert recipe.read_bytes() != before
    while tab.is_enabled("#undo"):
        tab.click("#undo")
    tab.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")
    assert recipe.read_bytes() == before
    assert [path.name for path in recipe.parent.iterdir() if ".journal" in path.name] == []


def test_a_carry_that_is_given_up_changes_nothing(tab: Any) -> None:
    carry(tab, (20, 50), (60, 60))
    tab.keyboard.press("Escape")
    tab.mouse.up()
    rested(tab)
    assert near(colour_at(tab, 20, 50), RED)
    assert tab.is_disabled("#undo")


def test_a_mirrored_copy_follows_the_hand_that_holds_it(tab: Any) -> None:
    # On pm the cell's right half mirrors the left: x → 100 − x. The disc's image is at (80, 50).
    tab.evaluate("() => { board.table.relay('pm') }")
    tab.wait_for_function("() => board.table.lie.name === 'pm'")
    rested(tab)
    assert near(colour_at(tab, 80, 50), RED)
    carry(tab, (80, 50), (72, 58))
    assert near(colour_at(tab, 72, 58), RED)
    assert near(colour_at(tab, 28, 58), RED)
    tab.mouse.up()
    rested(tab)
    assert tab.evaluate("board.store.rows[0].at") == pytest.approx([28, 58], abs=0.5)


def test_several_are_picked_by_chalk_and_moved_together(tab: Any) -> None:
    tab.locator("#cloth").focus()
    tab.evaluate("board.table.pickNone()")
    x0, y0 = tab.evaluate("board.table.view.toPage([2, 34])")
    x1, y1 = tab.evaluate("board.table.view.toPage([59, 97])")
    tab.keyboard.down("Shift")
    tab.mouse.move(x0, y0)
    tab.mouse.down()
    tab.mouse.move(x1, y1, steps=3)
    tab.mouse.up()
    tab.keyboard.up("Shift")
    assert tab.inner_text("#pickedname") == "2 motifs"
    tab.keyboard.press("ArrowRight")
    tab.keyboard.press("Shift+ArrowDown")
    rested(tab)
    rows = tab.evaluate("board.store.rows.map(row => row.at)")
    assert rows == [[21, 60], [74.2, 30.5], [49, 88]]


def test_numbers_place_a_motif_exactly(tab: Any) -> None:
    tab.locator("#cloth").focus()
    tab.keyboard.press("n")
    for field, value in (("#px", "33.25"), ("#py", "41"), ("#pturn", "-45"), ("#pscale", "150")):
        tab.fill(field, value)
        tab.keyboard.press("Enter")
    rested(tab)
    row = tab.evaluate("board.store.rows[0]")
    assert (row["at"], row["turn"], row["scale"]) == ([33.25, 41], 315, 1.5)


def test_stacking_order_changes_where_motifs_meet(tab: Any) -> None:
    carry(tab, (20, 50), (50, 74))
    tab.mouse.up()
    rested(tab)
    assert near(colour_at(tab, 46, 76), BLUE)
    tab.locator("#cloth").focus()
    tab.keyboard.press("o")
    rested(tab)
    assert near(colour_at(tab, 46, 76), RED)
    tab.keyboard.press("u")
    rested(tab)
    assert near(colour_at(tab, 46, 76), BLUE)


def test_a_motif_comes_from_the_tray_by_hand_and_by_key(tab: Any) -> None:
    box = tab.locator("[data-motif=square]").bounding_box()
    x, y = tab.evaluate("board.table.view.toPage([20, 20])")
    tab.mouse.move(box["x"] + 30, box["y"] + 30)
    tab.mouse.down()
    tab.mouse.move(x, y, steps=5)
    tab.wait_for_function("() => board.table.carrying?.rows && board.table.cloth.layered")
    # Before it is laid down, its copy a column on is there too, half a tile lower.
    tab.wait_for_function(
        """() => {
            const [x, y] = board.table.view.toPage([120, 70]);
            const { context } = board.table.cloth;
            const [red, , blue] = context.getImageData(x, y, 1, 1).data;
            return blue > 150 && red < 90;
        }"""
    )
    tab.mouse.up()
    tab.wait_for_function("() => board.store.rows.length === 4")
    tab.locator("[data-motif=leaf]").focus()
    tab.keyboard.press("Enter")
    tab.wait_for_function("() => board.store.rows.length === 5")
    tab.wait_for_function("() => document.querySelector('#pickedname').innerText === 'leaf'")


def test_fingers_slide_stretch_and_carry(chromium: Any, board: Board) -> None:
    context = chromium.new_context(
        viewport={"width": 800, "height": 1100}, has_touch=True, device_scale_factor=2
    )
    page = looked_at(context.new_page(), board)
    page.click("#snap")
    fingers = context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        told = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(points)]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": told})

    x, y = page.evaluate("board.table.view.toPage([20, 50])")
    touch("touchStart", (x, y))
    touch("touchMove", (x + 15, y))
    page.wait_for_function("() => board.table.carrying?.rows && board.table.cloth.layered")
    touch("touchMove", (x + 60, y + 10))
    touch("touchEnd")
    page.wait_for_function("() => board.store.canUndo")
    rested(page)
    scale = page.evaluate("board.table.view.scale")
    assert page.evaluate("board.store.rows[0].at") == pytest.approx(
        [20 + 60 / scale, 50 + 10 / scale], abs=0.3
    )
    touch("touchStart", (300, 400), (400, 400))
    touch("touchMove", (250, 400), (450, 400))
    page.wait_for_function("was => board.table.view.scale > was * 1.9", arg=scale)
    touch("touchEnd")
    rested(page)
    assert page.evaluate("board.store.history.cursor") == 1
    context.close()


def test_hands_pass_over_what_is_pinned_down(tab: Any) -> None:
    # Where the square lies over the disc, it is the square that is taken hold of.
    carry(tab, (48, 78), (20, 50))
    tab.mouse.up()
    rested(tab)
    x, y = tab.evaluate("board.table.view.toPage([20, 50])")
    reached = "point => board.table.motifAt(point, 0).key"
    assert tab.evaluate(reached, [x, y]) == "2"
    tab.click("[data-deed=pin]")
    assert tab.evaluate(reached, [x, y]) == "0"
    tab.click("[data-deed=pin]")
    assert tab.evaluate(reached, [x, y]) == "2"


def test_a_pulled_tape_brings_the_cloth_along(tab: Any) -> None:
    before = tab.evaluate("board.table.view.toPage([0, 0])")
    tab.mouse.move(600, 10)
    tab.mouse.down()
    tab.mouse.move(630, 25, steps=3)
    tab.evaluate("() => new Promise(requestAnimationFrame)")
    after = tab.evaluate("board.table.view.toPage([0, 0])")
    tab.mouse.up()
    assert [a - b for a, b in zip(after, before, strict=True)] == pytest.approx([30, 15], abs=1)
    # However far it is slid, the marked tile is the one in the middle.
    tab.evaluate("async () => { board.table.slide(5000, -3000); await board.table.settle() }")
    x, y = tab.evaluate("board.table.view.toCloth(board.table.view.middle)")
    assert 0 <= x < 100
    assert 0 <= y < 100


def test_a_drop_is_tried_live_and_kept_when_the_slider_rests(tab: Any) -> None:
    # Sixtieths of the tile: 20 is a third.
    tab.evaluate(
        """() => {
            const slider = document.getElementById('shift');
            slider.value = 20;
            slider.dispatchEvent(new Event('input'));
        }"""
    )
    tab.wait_for_function("() => board.table.lie.name === 'drop:1/3'")
    assert tab.evaluate("board.store.now.layout") == "half-drop"
    tab.evaluate("document.getElementById('shift').dispatchEvent(new Event('change'))")
    tab.wait_for_function("() => board.store.now.layout === 'drop:1/3'")
    rested(tab)
    # Column by column the disc is lower by 33⅓ mm.
    assert near(colour_at(tab, 120, 50 + 100 / 3), RED)
    station(tab, "tile")
    tab.fill("#fraction", "1/4")
    tab.keyboard.press("Enter")
    tab.wait_for_function("() => board.store.now.layout === 'drop:1/4'")


def test_clearance_voids_and_alleys_are_drawn(tab: Any) -> None:
    station(tab, "tile")
    tab.click("[data-kind=block]")
    station(tab, "look")
    tab.fill("#clearance", "19")
    for tick in ("#seeclearance", "#seevoids", "#seealleys"):
        tab.check(tick)
    tab.wait_for_selector("#seen:has-text('Largest void')")
    tab.wait_for_selector("#seen:has-text('alleys')")
    marks = tab.evaluate(
        """() => ['near', 'void', 'lane'].map(
            kind => document.querySelectorAll(`#marks .found .see-${kind}`).length
        )"""
    )
    # From x = 88 to 110 the block is bare from top to bottom: the leaf ends before 88.5.
    assert all(marks), marks
    tab.uncheck("#seealleys")
    tab.wait_for_function("() => !document.querySelector('#marks .found .see-lane')")


def test_a_toss_is_one_step_that_can_be_undone(tab: Any) -> None:
    before = tab.evaluate("board.store.rows")
    tab.click("#arranging > summary")
    tab.click("#lay")
    tab.wait_for_selector("#tossed:has-text('3 motifs placed')")
    assert tab.evaluate("board.store.rows") != before
    tab.click("#undo")
    assert tab.evaluate("board.store.rows") == before
    # What is pinned down stays, and the rest finds other places.
    tab.locator("#stack li").nth(2).evaluate("item => item.click()")
    tab.click("[data-deed=pin]")
    tab.click("#nextseed")
    tab.wait_for_selector("#tossed:has-text('2 motifs placed')")
    after = tab.evaluate("board.store.rows")
    assert after[0] == {**before[0], "pinned": True}
    assert {row["motif"] for row in after} == {row["motif"] for row in before}
    assert "--seed 2 --again" in tab.inner_text("#tosssaid")


def test_a_colourway_is_looked_at_and_not_kept(chromium: Any, tmp_path: Path) -> None:
    ways = (
        '\n[palette]\nred = "#c02020"\n\n[[colourway]]\nname = "night"\nground = "#101020"\n'
        'colours = { red = "#f0f040" }\n'
    )
    recipe = write_art(tmp_path, RECIPE + ways)
    before = recipe.read_bytes()
    with board_of(recipe) as found:
        page = looked_at(chromium.new_page(), found)
        station(page, "colour")
        page.click("#ways button[data-way=night]")
        page.wait_for_function("() => board.table.cloth.ground === '#101020'")
        rested(page)
        assert near(colour_at(page, 20, 50), "#f0f040")
        assert near(colour_at(page, 48, 78), BLUE)
        assert near(colour_at(page, 5, 5), "#101020")
        assert page.inner_text("#standing") == "Saved"
        page.close()
    assert recipe.read_bytes() == before


def test_two_tabs_show_the_same_cloth(tab: Any, board: Board) -> None:
    other = looked_at(tab.context.new_page(), board)
    # Behind another, a tab draws a frame once a second.
    tab.bring_to_front()
    carry(tab, (20, 50), (60, 60))
    tab.mouse.up()
    other.wait_for_function("() => board.store.rows[0].at[0] > 55")
    rested(other)
    assert near(colour_at(other, 60, 60), RED)
    other.click("#undo")
    tab.wait_for_function("() => board.store.rows[0].at[0] === 20")
    other.click("#save")
    tab.wait_for_selector("#standing:text-is('Saved')")


def test_the_slower_of_two_tabs_is_told_and_follows(tab: Any, board: Board) -> None:
    other = tab.context.new_page()
    # This one hears no news.
    other.route("**/api/events?*", lambda route: None)
    looked_at(other, board)
    for page, key, by in ((tab, "0", [5, 0]), (other, "2", [0, 7])):
        page.evaluate(
            """async ([key, by]) => {
                board.table.pick(key, board.table.nearestCopy(key));
                board.table.nudge(...by);
                await board.store.send();
            }""",
            [key, by],
        )
    other.wait_for_selector("#told:has-text('Another tab was quicker')")
    assert other.evaluate("board.store.rows[0].at") == [25, 50]
    assert other.evaluate("board.store.rows[2].at") == [48, 78]


def test_a_board_that_is_killed_is_taken_up_where_it_was(
    tab: Any, board: Board, recipe: Path, chromium: Any
) -> None:
    before = recipe.read_bytes()
    carry(tab, (20, 50), (60, 60))
    tab.mouse.up()
    rested(tab)
    station(tab, "tile")
    tab.click("[data-kind=brick]")
    tab.wait_for_function("() => board.table.lie.name === 'brick'")
    tab.evaluate("board.store.send()")
    board.kill()
    tab.wait_for_selector("#warning:has-text('has stopped')")
    assert recipe.read_bytes() == before
    with board_of(recipe) as again:
        page = looked_at(chromium.new_page(), again)
        assert page.evaluate("board.store.rows[0].at") == pytest.approx([60, 60], abs=0.5)
        assert page.evaluate("board.table.lie.name") == "brick"
        while page.is_enabled("#undo"):
            page.click("#undo")
        page.click("#save")
        page.wait_for_selector("#standing:text-is('Saved')")
        page.close()
    assert recipe.read_bytes() == before


def test_what_is_lost_of_a_journal_is_told_until_it_is_read(chromium: Any, recipe: Path) -> None:
    desk = Desk(recipe)
    for n in range(3):
        at = [30 + 10 * n, 50]
        desk.step(n, {"rows": {"0": {"motif": "disc", "at": at}}, "what": f"disc moved {n}"})
    path = desk.journal.path
    path.write_bytes(path.read_bytes().replace(b"disc moved 1", b"disc moved 7"))
    with board_of(recipe) as board:
        page = looked_at(chromium.new_page(), board)
        page.wait_for_selector("#warning:has-text('1 of 3 steps is lost')")
        assert str(path) + ".aside-1" in page.inner_text("#warning")
        assert page.evaluate("board.store.rows[0].at") == [50, 50]
        page.click("text=Understood")
        page.wait_for_selector("#warning", state="hidden")
        # The lost step is a step that changes nothing.
        for _ in range(3):
            page.click("#undo")
        assert page.evaluate("board.store.rows[0].at") == [20, 50]
        assert page.is_disabled("#undo")
        rested(page)
        page.close()


def test_a_full_disk_is_told_as_what_it_is(tab: Any, board: Board) -> None:
    import psutil

    if not hasattr(psutil, "RLIMIT_FSIZE"):
        pytest.skip("only Linux lets another process's files be bounded")
    move = "() => { board.table.pick('0', board.table.nearestCopy('0')); board.table.nudge(5, 0) }"
    process = psutil.Process(board.process.pid)
    most = process.rlimit(psutil.RLIMIT_FSIZE)
    process.rlimit(psutil.RLIMIT_FSIZE, (100, most[1]))
    tab.evaluate(move)
    tab.wait_for_selector("#told:has-text('larger than this disk allows')")
    assert tab.evaluate("board.store.rows[0].at") == [20, 50]
    process.rlimit(psutil.RLIMIT_FSIZE, most)
    tab.evaluate(move)
    rested(tab)
    assert tab.evaluate("board.store.rows[0].at") == [25, 50]
    assert tab.evaluate("board.store.kept") == 1


def test_a_change_on_the_disk_is_told_and_nothing_is_gone_over_unasked(
    tab: Any, recipe: Path
) -> None:
    tab.evaluate(
        "() => { board.table.pick('0', board.table.nearestCopy('0')); board.table.nudge(5, 0) }"
    )
    theirs = (
        recipe.read_text().replace("Drawn in May", "Drawn in June").replace("[48, 78]", "[60, 60]")
    )
    recipe.write_text(theirs)
    tab.wait_for_selector("#warning:has-text('changed the recipe')")
    tab.click("#save")
    tab.wait_for_selector("#told:has-text('Not saved')")
    assert recipe.read_text() == theirs
    with tab.expect_navigation():
        tab.click("text=Take what is on the disk")
    tab.wait_for_selector("body[data-ready]")
    assert tab.evaluate("board.store.rows.map(row => row.at)") == [[20, 50], [74.2, 30.5], [60, 60]]
    assert recipe.read_text() == theirs


def test_without_the_token_the_page_says_what_to_do(chromium: Any, board: Board) -> None:
    page = chromium.new_page()
    page.goto(board.address.partition("#")[0])
    page.wait_for_selector("#warning:has-text('the address that vecrepeat board has printed')")
    assert page.locator("#motifs li").count() == 0
    page.close()


def test_another_origin_s_page_reads_and_changes_nothing(chromium: Any, board: Board) -> None:
    page = chromium.new_page()
    page.route("http://evil.example/*", lambda route: route.fulfill(body="<p>hello"))
    page.goto("http://evil.example/")
    answer = page.evaluate(
        """async ([address, token]) => {
            const ask = async (path, options) => {
                try {
                    const response = await fetch(address + path, options);
                    return `${response.type} ${response.status}`;
                } catch (error) {
                    return 'refused';
                }
            };
            const headers = { 'X-Board-Token': token, 'Content-Type': 'application/json' };
            return [
                await ask('api/cloth', { headers }),
                await ask('api/step', {
                    method: 'POST', headers, body: '{"after":0,"step":{"order":[]}}',
                }),
                await ask('api/save', { method: 'POST', mode: 'no-cors', body: '{}' }),
            ];
        }""",
        [board.address.partition("#")[0], board.token],
    )
    assert answer[:2] == ["refused", "refused"]
    assert answer[2] in ("refused", "opaque 0")
    page.close()
    assert b'"steps":[]' in board.ask("/api/cloth")[2]


def test_nobody_is_shut_out(chromium: Any, board: Board) -> None:
    # axe is put into the page as a script, which our policy refuses. The narrowest is the
    # strictest; python tests/board/tasks looks at three sizes.
    context = chromium.new_context(viewport={"width": 390, "height": 844}, bypass_csp=True)
    page = looked_at(context.new_page(), board)
    # Opened, the card lies over what is below.
    page.click("#traysizes")
    page.click("#cardfold")
    while page.locator("details:not([open]) > summary").count():
        page.locator("details:not([open]) > summary").first.click()
    page.locator("#cloth").focus()
    page.keyboard.press("n")
    page.wait_for_timeout(300)
    assert faults_of(page) == {}
    for name in ("tile", "colour", "look", "files"):
        station(page, name)
        if name == "colour":
            page.click("#maincolours button >> nth=0")
        assert faults_of(page, "#card") == {}, name
    context.close()


def test_the_whole_way_can_be_gone_by_keys(tab: Any, recipe: Path) -> None:
    tab.keyboard.press("Tab")
    reached = []
    for _ in range(60):
        reached.append(
            tab.evaluate(
                """() => {
                    const { id, dataset, textContent } = document.activeElement;
                    return id || dataset.motif || textContent;
                }"""
            )
        )
        tab.keyboard.press("Tab")
        if len(set(reached)) < len(reached):
            break
    for wanted in ("save", "cloth", "in", "snap", "disc", "stack"):
        if wanted == "stack":
            tab.locator("summary:has-text('Stack')").focus()
            tab.keyboard.press("Enter")
            continue
        assert wanted in reached, reached
    tab.locator("#stack").focus()
    tab.keyboard.press("ArrowDown")
    assert tab.evaluate("document.getElementById('stack').getAttribute('aria-activedescendant')")
    tab.locator("#cloth").focus()
    tab.keyboard.press("?")
    assert tab.locator("#keys").is_visible()
    tab.keyboard.press("Escape")
    assert tab.evaluate("document.activeElement.id") == "cloth"
    tab.keyboard.press("ArrowRight")
    tab.keyboard.press("Control+s")
    tab.wait_for_selector("#told:has-text('Saved in three.toml')")
    assert recipe.read_text() != ""
