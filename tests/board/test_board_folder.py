"""The folder at work: nothing outside it is reached, and only copies are written."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from browsing import DISC, RECIPE, write_art
from support import svg

from vecrepeat.board.folder import Folder
from vecrepeat.board.workshop import Workshop
from vecrepeat.core.errors import InputError
from vecrepeat.sources.source import open_source


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """A folder with a design, beside one that is none of the board's business."""
    (tmp_path / "work" / "inner").mkdir(parents=True)
    (tmp_path / "other").mkdir()
    write_art(tmp_path / "work")
    write_art(tmp_path / "other")
    return Folder(tmp_path / "work")


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        "../other/three.toml",
        "inner/../../other/three.toml",
        "/etc/passwd",
        "inner//../../other",
        ".three.toml.journal",
        "inner/.copied",
        "three\0.toml",
    ],
)
def test_no_name_leads_out_or_to_what_is_hidden(folder: Folder, name: str) -> None:
    with pytest.raises(InputError):
        folder.within(name)


def test_no_link_leads_out(folder: Folder) -> None:
    (folder.root / "file.toml").symlink_to("../other/three.toml")
    (folder.root / "link").symlink_to("../other")
    (folder.root / "round").symlink_to("round")
    for name in ("file.toml", "link", "link/three.toml", "round", "link/new.svg"):
        with pytest.raises(InputError, match="out of this folder"):
            folder.within(name)
    # A link within the folder is as good as what it leads to.
    (folder.root / "same.toml").symlink_to("three.toml")
    assert folder.within("same.toml").read_text() == RECIPE
    assert {one["design"] for one in folder.designs()} == {"three.toml", "same.toml"}


def test_designs_are_recipes_the_newest_first(folder: Folder) -> None:
    import os

    (folder.root / "prints.toml").write_text('[[print]]\nname = "a"\n')
    (folder.root / "inner" / "new.toml").write_text('name = "New"\nart = ["../art.svg"]\n')
    os.utime(folder.root / "three.toml", (1e9, 1e9))
    assert [(one["design"], one["title"]) for one in folder.designs()] == [
        ("inner/new.toml", "New"),
        ("three.toml", "three"),
    ]
    assert folder.drawings() == ["art.svg"]


@pytest.mark.parametrize(
    ("dropped", "copied"),
    [
        ("daisy.svg", "daisy.svg"),
        ("../../daisy.svg", "daisy.svg"),
        ("C:\\art\\daisy.svg", "daisy.svg"),
        (".daisy.svg", "daisy.svg"),
        ("a\nb.PNG", "a-b.PNG"),
    ],
)
def test_a_dropped_file_is_copied_into_its_design_s_own_folder(
    folder: Folder, dropped: str, copied: str
) -> None:
    name = folder.begin("Daisy & Co.")
    path = folder.place_for(name, dropped)
    folder.take_in(name, path, b"<svg/>")
    assert path == folder.root / "daisy-co" / "art" / copied
    assert folder.copies(name) == [copied]
    assert folder.begin("daisy co") == "daisy-co-2"
    # Nothing but what stands in the list is taken away with it.
    folder.let_go(name, path)
    folder.give_up(name)
    assert not (folder.root / name).exists()


def test_what_is_no_copy_of_ours_is_never_written(folder: Folder) -> None:
    name = folder.begin("daisy")
    art = folder.root / name / "art"
    (art / "own.svg").write_text("mine")
    (art / "link.svg").symlink_to(folder.root / "art.svg")
    for file in ("own.svg", "link.svg", "notes.txt", "run.sh"):
        with pytest.raises(InputError):
            folder.place_for(name, file)
    with pytest.raises(InputError, match="no folder of a design"):
        folder.place_for("inner", "new.svg")
    with pytest.raises(InputError, match="no copy of that name"):
        folder.place_for(name, "new.svg", known=True)
    # The design's original lies in the folder itself.
    with pytest.raises(InputError, match="no copy of that name"):
        folder.place_for("", "art.svg", known=True)
    # A folder of copies that is a link is none.
    (folder.root / "sly").mkdir()
    (folder.root / "sly" / "art").symlink_to(folder.root.parent / "other")
    with pytest.raises(InputError):
        folder.place_for("sly", "art.svg")
    assert folder.own("sly/three.toml") == "sly/three"


def drop(work: Workshop, design: str, name: str, data: str) -> dict[str, Any]:
    async def dropped() -> Any:
        try:
            return await work.drop_anew(design, name, data.encode())
        finally:
            work.end()
            if (reader := work.shelf._worker) is not None:
                reader.close()
            work.close()
            work.release()

    return dict(asyncio.run(dropped()))


@pytest.mark.parametrize(
    ("said", "then"),
    [
        ('art = ["../art.svg"]', '["three/art/art.svg"]'),
        ('loose = ["../mine"]', '["../mine/a.svg", "three/art/art.svg"]'),
    ],
)
def test_a_changed_drawing_takes_the_place_of_one_that_the_recipe_names(
    tmp_path: Path, said: str, then: str
) -> None:
    """Designs that were not begun on the page: originals stay, and a copy comes in."""
    work, mine = tmp_path / "work", tmp_path / "mine"
    for folder in (work, mine):
        folder.mkdir()
    for name in ("art.svg", "mine/art.svg", "mine/a.svg"):
        (tmp_path / name).write_text(svg(DISC))
    # It can be no motif, and named by itself it would refuse all.
    (mine / "b.svg").write_text("<svg")
    recipe = f'tile = "100x100mm"\n{said}  # mine\n'
    name = "disc" if "art =" in said else "art"
    (work / "three.toml").write_text(f'{recipe}placement = [{{motif = "{name}"}}]\n')
    changed = svg(DISC.replace("c02020", "10a040"))
    told = drop(Workshop(Folder(work), (), str), "three.toml", "art.svg", changed)
    assert told["copied"]
    text = (work / "three.toml").read_text()
    assert f"{said.partition(' ')[0]} = {then}  # mine" in text
    assert open_source(work / "three.toml").pool.motifs[name].colours == ("#10a040",)
    assert (tmp_path / "art.svg").read_text() == (mine / "art.svg").read_text() == svg(DISC)
    # What can't be read changes nothing, and the next one goes over the copy.
    again = Workshop(Folder(work), (), str)
    with pytest.raises(InputError):
        drop(again, "three.toml", "art.svg", "<svg")
    assert (work / "three" / "art" / "art.svg").read_text() == changed
    assert (work / "three.toml").read_text() == text


def test_drawings_dropped_at_once_all_come_in(tmp_path: Path) -> None:
    (tmp_path / "disc.svg").write_text(svg(DISC))
    (tmp_path / "d.toml").write_text('tile = "100x100mm"\nloose = ["disc.svg"]\n')
    workshop = Workshop(Folder(tmp_path), (), str)

    async def dropped() -> None:
        try:
            data = [svg(DISC.replace("c02020", f"10a04{k}")).encode() for k in range(3)]
            both = [("disc.svg", data[0]), ("b.svg", data[1]), ("c.svg", data[2])]
            await asyncio.gather(*(workshop.drop_anew("d.toml", *one) for one in both))
        finally:
            workshop.end()
            if (reader := workshop.shelf._worker) is not None:
                reader.close()
            workshop.close()
            workshop.release()

    asyncio.run(dropped())
    motifs = open_source(tmp_path / "d.toml", placed=False).pool.motifs
    colours = {name: motif.colours for name, motif in motifs.items()}
    assert colours == {"disc": ("#10a040",), "b": ("#10a041",), "c": ("#10a042",)}


def test_a_drawing_that_can_t_be_read_leaves_no_folder_behind(folder: Folder) -> None:
    with pytest.raises(InputError):
        drop(Workshop(folder, (), str), "three.toml", "art.svg", "<svg")
    assert not (folder.root / "three").exists()
    # Saved in its drawing program, it is there already.
    drawing = (folder.root / "art.svg").read_text()
    assert "copied" not in drop(Workshop(folder, (), str), "three.toml", "art.svg", drawing)
    assert not (folder.root / "three").exists()
