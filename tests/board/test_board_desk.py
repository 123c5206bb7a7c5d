"""The desk saves what the page shows and nothing else, and loses nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsing import RECIPE, write_art

from vecrepeat.board.desk import ConflictError, Desk
from vecrepeat.board.seeds import seeds_path
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.model import Placed
from vecrepeat.sources.source import open_source

MOVED = {"rows": {"2": {"motif": "square", "at": [60, 80]}}, "what": "square moved"}


def test_saving_changes_the_moved_line_alone(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    before = file.read_text()
    desk = Desk(file)
    desk.step(0, MOVED)
    desk.save()
    assert file.read_text() == before.replace("at = [48, 78]", "at = [60, 80]")


def test_undoing_to_the_start_gives_the_bytes_that_were_there_even_after_saving(
    tmp_path: Path,
) -> None:
    # Spelt in ways that we would not: turn = 0 goes without saying.
    recipe = RECIPE.replace("at = [20, 50]", "at = [20.00, 50.0], turn = 0, flip = false")
    file = write_art(tmp_path, recipe)
    before = file.read_bytes()
    desk = Desk(file)
    desk.step(0, MOVED)
    desk.save()
    assert file.read_bytes() != before
    desk.step(1, {"cursor": 0})
    desk.save()
    assert file.read_bytes() == before


def test_a_layout_keeps_its_comment(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, {"layout": "drop:1/3"})
    desk.save()
    assert 'layout = "drop:1/3"  # as the client wants it\n' in file.read_text()
    assert str(open_source(file).repeat.layout) == "drop:1/3"


def test_a_recipe_that_leaves_placements_to_the_drawing_gets_them_when_they_change(
    tmp_path: Path,
) -> None:
    file = write_art(tmp_path, 'art = ["art.svg"]\n\n[palette]\nred = "#c02020"\n')
    desk = Desk(file)
    assert desk.now.placed == (Placed("disc"), Placed("leaf"), Placed("square"))
    desk.step(0, MOVED)
    desk.save()
    recipe = open_source(file).recipe
    assert recipe is not None
    assert recipe.placements == (Placed("disc"), Placed("leaf"), Placed("square", (60.0, 80.0)))
    assert recipe.palette == {"red": "#c02020"}


def test_a_drawing_s_cloth_can_not_be_saved_bare(tmp_path: Path) -> None:
    # The recipe would then show the drawing's own placements again.
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, {"order": []})
    with pytest.raises(InputError, match="nothing is placed"):
        desk.save()
    assert "square" in file.read_text()


def test_what_something_else_wrote_is_not_gone_over_unasked(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, MOVED)
    theirs = file.read_text().replace("Drawn in May", "Drawn in June")
    file.write_text(theirs)
    assert desk.look()
    assert desk.foreign
    with pytest.raises(ConflictError):
        desk.save()
    assert file.read_text() == theirs
    desk.save(over=True)
    assert "Drawn in May" in file.read_text()
    assert not desk.foreign


def test_a_change_is_seen_even_between_two_looks(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, MOVED)
    file.write_text(file.read_text() + "# a last word\n")
    with pytest.raises(ConflictError):
        desk.save()


def test_what_is_on_the_disk_can_be_taken_instead(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, MOVED)
    file.write_text(file.read_text().replace("at = [48, 78]", "at = [1, 2]"))
    desk.look()
    desk.take(desk.read(), drop=True)
    assert desk.now.placed[2] == Placed("square", (1.0, 2.0))
    assert (desk.dirty, desk.foreign, desk.steps) == (False, False, [])
    assert not desk.journal.path.exists()


def test_a_recipe_that_can_not_be_read_any_more_leaves_all_as_it_was(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, MOVED)
    file.write_text("art = [")
    desk.look()
    with pytest.raises(InputError):
        desk.take(desk.read(), drop=True)
    assert desk.now.placed[2] == Placed("square", (60.0, 80.0))
    assert desk.foreign


def test_art_that_has_changed_is_read_anew_and_the_steps_stay(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, MOVED)
    art = tmp_path / "art.svg"
    art.write_text(art.read_text().replace("#2040c0", "#20c040"))
    assert desk.art_changed
    desk.take(desk.read(), drop=False)
    assert not desk.art_changed
    assert desk.source.pool.motifs["square"].colours == ("#20c040",)
    assert desk.now.placed[2] == Placed("square", (60.0, 80.0))
    assert desk.dirty


def test_a_folder_of_motifs_has_changed_when_one_of_its_motifs_has(tmp_path: Path) -> None:
    (tmp_path / "loose").mkdir()
    motif = tmp_path / "loose" / "disc.svg"
    motif.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        '<circle cx="4" cy="4" r="3" fill="#2040c0"/></svg>'
    )
    recipe = tmp_path / "r.toml"
    recipe.write_text('loose = ["loose"]\ntile = "40x40mm"\n')
    desk = Desk(recipe)
    # A drawing program's own file, come and gone.
    passing = motif.with_name("disc.svg~")
    passing.touch()
    assert not desk.art_changed
    passing.unlink()
    assert not desk.art_changed
    # Written in place: the folder itself is as it was.
    motif.write_text(motif.read_text().replace("#2040c0", "#20c040 "))
    assert desk.art_changed
    desk.take(desk.read(), drop=False)
    assert not desk.art_changed
    motif.with_name("other.svg").write_bytes(motif.read_bytes())
    assert desk.art_changed


def test_a_crash_loses_no_step(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    before = file.read_bytes()
    first = Desk(file)
    first.step(0, MOVED)
    first.step(1, {"layout": "brick"})
    # Nothing is closed or told: another process would find just what lies on the disk.
    second = Desk(file)
    assert second.taken_up == 2
    assert second.now == first.now
    second.step(2, {"cursor": 0})
    second.save()
    assert file.read_bytes() == before
    assert not second.journal.path.exists()


def test_steps_after_a_save_are_kept_with_those_before(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    before = file.read_bytes()
    first = Desk(file)
    first.step(0, MOVED)
    first.save()
    first.step(1, {"cursor": 0})
    second = Desk(file)
    assert second.text_now().encode() == before
    assert second.dirty


def test_a_crash_and_a_change_by_something_else_are_both_told(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    Desk(file).step(0, MOVED)
    file.write_text(file.read_text() + "# a last word\n")
    found = Desk(file)
    assert found.foreign
    assert found.now.placed[2] == Placed("square", (60.0, 80.0))


def test_a_step_that_another_was_quicker_than_is_not_made(tmp_path: Path) -> None:
    desk = Desk(write_art(tmp_path))
    desk.step(0, MOVED)
    with pytest.raises(ConflictError):
        desk.step(0, {"order": []})
    assert len(desk.now.placed) == 3


def test_a_layout_that_the_page_can_not_have_is_no_step(tmp_path: Path) -> None:
    file = write_art(tmp_path, RECIPE.replace("100x100mm", "100x120mm"))
    desk = Desk(file)
    with pytest.raises(InputError, match="square"):
        desk.step(0, {"layout": "p4"})
    assert desk.now.layout == "half-drop"
    assert not desk.journal.path.exists()


def test_tosses_can_be_gone_back_to_once_the_journal_is_gone(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    for seed in range(1, 15):
        row = {"motif": "leaf", "at": [seed, 50], "pinned": True}
        step = {
            "rows": {f"k{seed}": row},
            "order": [f"k{seed}"],
            "settings": {"toss": {"seed": seed}},
        }
        desk.step(seed - 1, step)
    # Undone: it was tossed all the same.
    desk.step(14, {"cursor": 3})
    desk.step(15, {"settings": {"ditsy": {"seed": 5}}})
    desk.save()
    # Undoing let go of the others.
    kept = Desk(file).seeds
    assert [(one["way"], one["settings"]["seed"]) for one in kept] == [
        *(("toss", seed) for seed in (1, 2, 3)),
        ("ditsy", 5),
    ]
    assert kept[0]["rows"] == [{"motif": "leaf", "at": [1, 50], "pinned": True}]
    # The newest of a seed counts, and a dozen of each way.
    again = Desk(file)
    for number, seed in enumerate([2, *range(20, 31)]):
        again.step(number, {"settings": {"toss": {"seed": seed}}})
    again.save()
    seeds = [one["settings"]["seed"] for one in Desk(file).seeds if one["way"] == "toss"]
    assert seeds == [2, *range(20, 31)]


def test_seeds_that_can_t_be_gone_back_to_are_no_seeds(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    desk.step(0, {"settings": {"toss": {"seed": 3}}})
    desk.save()
    data = seeds_path(file).read_text()
    for said, told in ((data.replace("leaf", "gone"), 0), (data[:-9], 1), ("{}", 0), ("[1]", 1)):
        seeds_path(file).write_text(said)
        desk = Desk(file)
        assert desk.seeds == []
        assert len(desk.told) == told, said
    assert "seeds kept" in desk.told[0]
