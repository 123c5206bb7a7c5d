"""What has been read is found again, and only where nothing that went into it has changed."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image
from support import SPRIG, svg, vecrepeat

from vecrepeat.art import stages
from vecrepeat.art.read import Art, read_art
from vecrepeat.sources import loose
from vecrepeat.sources.loose import read_loose
from vecrepeat.util import cache

PICTURE = '<image href="leaf.png" x="20" y="20" width="30" height="30"/>'


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of a cache that keeps all, however quickly it was worked out."""
    folder = tmp_path / "kept"
    monkeypatch.setenv(cache.VARIABLE, str(folder))
    monkeypatch.setattr(cache, "WORTHWHILE", 0.0)
    return folder


@pytest.fixture
def workings(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The drawings that were worked out, not looked up."""
    done: list[Path] = []
    work = stages.read_drawing

    def noted(file: Path, *others: object) -> Art:
        done.append(file)
        made: Callable[..., Art] = work
        return made(file, *others)

    monkeypatch.setattr(stages, "read_drawing", noted)
    return done


def drawing(folder: Path, body: str = SPRIG, name: str = "art.svg") -> Path:
    folder.mkdir(exist_ok=True)
    file = folder / name
    file.write_text(svg(body))
    return file


def leaf(folder: Path, colour: str) -> None:
    Image.new("RGB", (8, 8), colour).save(folder / "leaf.png")


def same(one: Art, other: Art) -> bool:
    fields = ("file", "width", "height", "ground", "metadata", "notes")
    return all(getattr(one, f) == getattr(other, f) for f in fields) and all(
        a.name == b.name
        and a.scene == b.scene
        and (a.features, a.colours, a.regions, a.dpi) == (b.features, b.colours, b.regions, b.dpi)
        and shapely.equals_exact(a.parts, b.parts, 0.0).all()
        for a, b in zip(one.motifs, other.motifs, strict=True)
    )


def test_a_drawing_is_worked_out_once(kept: Path, tmp_path: Path, workings: list[Path]) -> None:
    file = drawing(tmp_path / "a")
    first, second = read_art(file), read_art(file)
    assert workings == [file]
    assert same(first, second)


def test_the_same_drawing_elsewhere_is_known(
    kept: Path, tmp_path: Path, workings: list[Path]
) -> None:
    first, second = (drawing(tmp_path / name) for name in "ab")
    read_art(first)
    assert read_art(second).file == second
    assert workings == [first]


@pytest.mark.parametrize(
    "options", [{"loose": True}, {"tolerance": 0.5}, {"motifs": "svg > *"}, {"live_text": True}]
)
def test_other_options_are_another_reading(
    kept: Path, tmp_path: Path, workings: list[Path], options: dict[str, object]
) -> None:
    file = drawing(tmp_path / "a")
    read_art(file)
    read_art(file, **options)  # type: ignore[arg-type]
    assert len(workings) == 2


def test_a_changed_drawing_is_read_anew(kept: Path, tmp_path: Path, workings: list[Path]) -> None:
    file = drawing(tmp_path / "a")
    read_art(file)
    drawing(tmp_path / "a", SPRIG.replace("10", "11"))
    read_art(file)
    assert len(workings) == 2


def test_a_changed_picture_in_it_is_seen(kept: Path, tmp_path: Path, workings: list[Path]) -> None:
    file = drawing(tmp_path / "a", SPRIG + PICTURE)
    leaf(tmp_path / "a", "red")
    first = read_art(file)
    assert same(first, read_art(file))
    leaf(tmp_path / "a", "blue")
    changed = read_art(file)
    assert not same(first, changed)
    assert len(workings) == 2


def test_a_picture_that_was_missing_is_found_when_it_comes(kept: Path, tmp_path: Path) -> None:
    file = drawing(tmp_path / "a", SPRIG + PICTURE)
    assert any("leaf.png" in note for note in read_art(file).notes)
    leaf(tmp_path / "a", "red")
    assert not any("leaf.png" in note for note in read_art(file).notes)


def test_a_picture_that_goes_is_missed(kept: Path, tmp_path: Path) -> None:
    file = drawing(tmp_path / "a", SPRIG + PICTURE)
    leaf(tmp_path / "a", "red")
    read_art(file)
    (tmp_path / "a" / "leaf.png").unlink()
    assert any("leaf.png" in note for note in read_art(file).notes)


def test_what_is_known_is_not_written_over(kept: Path, tmp_path: Path) -> None:
    # The files behind a reading that is looked up count as read, the picture too.
    folder = tmp_path / "a"
    file = drawing(folder, SPRIG + PICTURE)
    leaf(folder, "red")
    for out in (file, folder / "leaf.png"):
        done = vecrepeat("export", str(file), "--dpi", "20", "-o", str(out))
        assert done.code == 2, done
        with Image.open(folder / "leaf.png") as picture:
            assert picture.size == (8, 8)


def test_damage_is_a_miss(kept: Path, tmp_path: Path, workings: list[Path]) -> None:
    file = drawing(tmp_path / "a")
    first = read_art(file)
    (entry,) = kept.iterdir()
    whole = entry.read_bytes()
    rng = np.random.default_rng(3)
    damages = [whole[:n] for n in (0, 10, 50, len(whole) - 1)]
    for at in [0, 20, 48, *rng.integers(0, len(whole), 30).tolist()]:
        damages.append(whole[:at] + bytes([whole[at] ^ 0x55]) + whole[at + 1 :])
    for count, damaged in enumerate(damages, 2):
        entry.write_bytes(damaged)
        assert same(first, read_art(file))
        assert len(workings) == count
        assert entry.read_bytes() == whole


def test_the_program_s_own_change_is_a_miss(
    kept: Path, tmp_path: Path, workings: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = drawing(tmp_path / "a")
    read_art(file)
    monkeypatch.setattr(cache, "_program", lambda: "another")
    read_art(file)
    assert len(workings) == 2


def test_fonts_count_where_there_is_text(
    kept: Path, tmp_path: Path, workings: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = drawing(tmp_path / "a")
    # In a title text is not drawn, but may be: what names it is read anew, no more than that.
    lettered = drawing(tmp_path / "b", SPRIG + "<desc>no text</desc>")
    read_art(plain), read_art(lettered)
    monkeypatch.setattr(cache, "_fonts", lambda: "another")
    read_art(plain), read_art(lettered)
    assert workings == [plain, lettered, lettered]


def test_what_was_not_used_for_longest_goes_first(
    kept: Path, tmp_path: Path, workings: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    files = [drawing(tmp_path / "a", SPRIG.replace("10", str(n)), f"{n}.svg") for n in (11, 12)]
    read_art(files[0])
    (entry,) = kept.iterdir()
    monkeypatch.setattr(cache, "MOST_BYTES", int(entry.stat().st_size * 1.5))
    monkeypatch.setattr(cache, "_kept", 0)
    read_art(files[1])
    assert len(list(kept.iterdir())) == 1
    assert not entry.exists()
    read_art(files[1])
    assert workings == files


def test_a_folder_that_can_t_be_written_to_is_no_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv(cache.VARIABLE, str(tmp_path / "file" / "kept"))
    monkeypatch.setattr(cache, "WORTHWHILE", 0.0)
    assert read_art(drawing(tmp_path / "a")).motifs


def test_it_can_be_switched_off(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = drawing(tmp_path / "a")
    monkeypatch.setenv(cache.VARIABLE, "off")
    read_art(file)
    monkeypatch.setenv(cache.VARIABLE, str(kept))
    assert vecrepeat("motifs", str(file), "--no-cache").code == 0
    assert not kept.exists()


def test_pictures_are_outlined_once(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "loose"
    folder.mkdir()
    pixels = np.zeros((40, 40, 4), np.uint8)
    pixels[8:30, 10:30] = (200, 30, 60, 255)
    Image.fromarray(pixels).save(folder / "bud.png")
    first = read_loose(folder)
    monkeypatch.setattr(loose, "_outline", None)
    second = read_loose(folder)
    assert first.notes == second.notes
    for one, other in zip(first.motifs, second.motifs, strict=True):
        assert one.scene == other.scene
        assert shapely.equals_exact(one.parts, other.parts, 0.0).all()


def test_many_processes_share_it(kept: Path, tmp_path: Path) -> None:
    files = [drawing(tmp_path / "a", SPRIG.replace("10", str(n)), f"{n}.svg") for n in (11, 12)]
    names = [str(file) for file in files]
    code = """if True:
        import sys
        from vecrepeat.art.read import read_art
        from vecrepeat.util import cache
        cache.WORTHWHILE = 0.0
        for file in sys.argv[1:] * 10:
            print(len(read_art(file).motifs))
    """
    running = [
        subprocess.Popen([sys.executable, "-c", code, *names], stdout=subprocess.PIPE, text=True)
        for _ in range(3)
    ]
    told = {process.communicate()[0] for process in running}
    assert [process.returncode for process in running] == [0, 0, 0]
    assert len(told) == 1
    assert sorted(path.suffix for path in kept.iterdir()) == [".kept", ".kept"]


def test_what_depends_on_bytes_alone_is_worked_out_once(kept: Path) -> None:
    done: list[int] = []

    def work() -> int:
        done.append(len(done))
        return done[-1]

    assert [cache.kept("count", data, work) for data in (b"a", b"a", b"b", b"a")] == [0, 0, 1, 0]
    assert cache.kept("other", b"a", work) == 2
    cache.switch_off()
    assert cache.kept("count", b"a", work) == 3
