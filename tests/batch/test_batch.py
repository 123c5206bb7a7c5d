"""Batches: everything asked for, once, resumable after any kind of stop."""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
from PIL import Image
from support import DEMO, svg, vecrepeat

from vecrepeat.batch import lanes, running
from vecrepeat.batch import work as batch
from vecrepeat.batch.jobs import ANY, Job, Limits, jobs_of, read_limits
from vecrepeat.batch.running import planned
from vecrepeat.batch.work import JOURNAL, MANIFEST, run_batch
from vecrepeat.core.errors import InputError
from vecrepeat.draw.cairo import CairoDocument, CairoFailure
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.repeat.layout import Layout
from vecrepeat.util.cores import cores

BODY = """<rect width="100" height="100" fill="#f2e8d5"/>
<g id="bloom"><circle cx="30" cy="30" r="9" fill="#cc3333"/></g>
<g id="bud"><circle cx="99" cy="50" r="5" fill="#224455"/></g>"""
RECIPE = """art = "art.svg"
layout = "half-drop"
[palette]
red = "#cc3333"
[[colourway]]
name = "Blue hour"
ground = "#102040"
colours = { red = "#3366cc" }
"""


def recipes(folder: Path, count: int, prints: int = 2) -> list[Path]:
    """So many recipes of one drawing, each with so many prints."""
    (folder / "art.svg").write_text(svg(BODY))
    made = []
    for number in range(count):
        rows = "".join(
            f'[[print]]\nname = "p{k}"\nwidth = "{20 + 5 * k}mm"\ndpi = 72\n' for k in range(prints)
        )
        path = folder / f"d{number:03}.toml"
        path.write_text(RECIPE + rows, encoding="utf-8")
        made.append(path)
    return made


def hashes(folder: Path) -> dict[str, str]:
    """Every picture's hash by its place in the folder."""
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*.png"))
    }


def test_every_print_of_every_colourway(tmp_path: Path) -> None:
    done = run_batch(jobs_of(recipes(tmp_path, 2), tmp_path / "out"), tmp_path / "out", processes=1)
    assert (done.written, done.kept, done.failed) == (8, 0, ())
    names = sorted(hashes(tmp_path / "out"))
    assert names[:4] == [
        "d000/d000-blue-hour-p0.png",
        "d000/d000-blue-hour-p1.png",
        "d000/d000-p0.png",
        "d000/d000-p1.png",
    ]
    with Image.open(tmp_path / "out" / names[0]) as image:
        colours = {c for _, c in image.convert("RGB").getcolors(1 << 16) or []}
    assert {(0x10, 0x20, 0x40), (0x33, 0x66, 0xCC), (0x22, 0x44, 0x55)} <= colours
    assert (0xCC, 0x33, 0x33) not in colours


def test_the_manifest_says_what_was_written(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run_batch(jobs_of(recipes(tmp_path, 1), out), out, processes=1)
    listed = json.loads((out / MANIFEST).read_text(encoding="utf-8"))["files"]
    assert not (out / JOURNAL).exists()
    for record in listed:
        assert (out / record["source"]).resolve() == tmp_path / "d000.toml"
        data = (out / record["file"]).read_bytes()
        assert record["sha256"] == hashlib.sha256(data).hexdigest()
        assert record["bytes"] == len(data)
        with Image.open(out / record["file"]) as image:
            assert image.size == (record["width_px"], record["height_px"])
        assert record["profile"] == "sRGB"
        assert len(record["deviation_ppm"]) == 2


def test_drawings_and_recipes_may_all_be_written_in_the_same_prints(tmp_path: Path) -> None:
    (recipe,) = recipes(tmp_path, 1)
    shop = tmp_path / "shop" / "prints.toml"
    shop.parent.mkdir()
    shop.write_text(
        '[[print]]\nname = "swatch"\nwidth = "20mm"\ndpi = 72\n\n'
        '[[print]]\nname = "large"\nwidth = "30mm"\ndpi = 72\nblock = true\n'
    )
    out = tmp_path / "out"

    def jobs() -> list[Job]:
        return jobs_of([tmp_path / "art.svg", recipe], out, prints=shop)

    done = run_batch(jobs(), out, processes=1)
    assert not done.failed, done.failed
    assert sorted(hashes(out)) == [
        "art/art-large.png",
        "art/art-swatch.png",
        "d000/d000-blue-hour-large.png",
        "d000/d000-blue-hour-swatch.png",
        "d000/d000-large.png",
        "d000/d000-swatch.png",
    ]
    # The drawing alone is a block; the recipe says half-drop, whose straight block is two tiles.
    sizes = {Path(r["file"]).name: (r["width_px"], r["height_px"]) for r in done.records}
    assert sizes["art-large.png"] == (85, 85)
    assert sizes["d000-large.png"][0] == 2 * sizes["art-large.png"][0]
    # What did not change is not written again.
    shop.write_text(shop.read_text().replace("30mm", "40mm"))
    assert run_batch(jobs(), out, processes=1).written == 3


def test_a_layout_may_be_said_for_all(tmp_path: Path) -> None:
    recipes(tmp_path, 1)
    out = tmp_path / "out"
    prints = tmp_path / "p.toml"
    prints.write_text('[[print]]\nwidth = "20mm"\ndpi = 72\nblock = true\n')
    art = [tmp_path / "art.svg"]
    plain = run_batch(jobs_of(art, out, prints=prints), out, processes=1)
    layout = Layout.parse("half-drop")
    dropped = run_batch(jobs_of(art, out, prints=prints, layout=layout), out, processes=1)
    assert dropped.written == 1
    assert dropped.records[0]["width_px"] == 2 * plain.records[0]["width_px"]


def test_nothing_is_done_twice_until_something_changes(tmp_path: Path) -> None:
    out = tmp_path / "out"
    paths = recipes(tmp_path, 2)
    run_batch(jobs_of(paths, out), out, processes=1)
    again = run_batch(jobs_of(paths, out), out, processes=1)
    assert (again.written, again.kept) == (0, 8)
    spoilt = out / "d000" / "d000-p0.png"
    spoilt.write_bytes(spoilt.read_bytes()[:100])
    assert run_batch(jobs_of(paths, out), out, processes=1).written == 1
    paths[1].write_text(paths[1].read_text().replace("half-drop", "brick"), encoding="utf-8")
    assert run_batch(jobs_of(paths, out), out, processes=1).written == 4
    (tmp_path / "art.svg").write_text(svg(BODY.replace('r="9"', 'r="8"')))
    assert run_batch(jobs_of(paths, out), out, processes=1).written == 8


def test_killed_at_any_moment_it_goes_on_to_the_same_files(tmp_path: Path) -> None:
    paths = recipes(tmp_path, 6, prints=3)
    undisturbed = tmp_path / "one"
    run_batch(jobs_of(paths, undisturbed), undisturbed, processes=1)
    out = tmp_path / "other"
    call = [sys.executable, "-m", "vecrepeat", "batch", *map(str, paths), "-o", str(out)]
    dice = random.Random(5)
    for _ in range(3):
        run = subprocess.Popen(
            call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, process_group=0
        )
        time.sleep(1 + 1.5 * dice.random())
        os.killpg(run.pid, signal.SIGKILL)
        run.wait()
        # Whatever is there under a final name is whole.
        for picture in out.rglob("*.png"):
            with Image.open(picture) as image:
                image.load()
    assert subprocess.run(call, capture_output=True, check=False).returncode == 0
    assert hashes(out) == hashes(undisturbed)
    assert len(hashes(out)) == 36
    assert not list(out.rglob("*.part")), "what was cut short is cleared away"


def test_what_a_killed_batch_was_at_ends_with_it(tmp_path: Path) -> None:
    # Not its group but the batch alone, as when memory runs out.
    psutil = pytest.importorskip("psutil")
    out = tmp_path / "out"
    call = [sys.executable, "-m", "vecrepeat", "batch", "-o", str(out), "--processes", "2"]
    call += map(str, recipes(tmp_path, 9, prints=5))
    run = subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    while not list(out.rglob("*.png")):
        time.sleep(0.05)
    family = psutil.Process(run.pid).children(recursive=True)
    assert len(family) >= 2
    run.kill()
    run.wait()
    _, alive = psutil.wait_procs(family, timeout=20)
    assert not alive


def test_a_process_that_dies_is_replaced(tmp_path: Path) -> None:
    psutil = pytest.importorskip("psutil")
    out = tmp_path / "out"
    killed: list[int] = []

    def kill_one(finished: int) -> None:
        if not killed:
            # One that was used by another test may have ended, and have no command line any more.
            children = [
                p for p in psutil.Process().children() if p.status() != psutil.STATUS_ZOMBIE
            ]
            lanes = [p for p in children if "vecrepeat.batch.lane_worker" in p.cmdline()]
            killed.append(lanes[0].pid)
            lanes[0].kill()

    done = run_batch(jobs_of(recipes(tmp_path, 2), out), out, processes=2, progress=kill_one)
    assert killed
    assert (done.written, done.failed) == (8, ())


def test_a_job_that_ends_its_process_each_time_is_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = jobs_of(recipes(tmp_path, 1), tmp_path / "out")
    runs: list[Job] = []

    def run(lane: object, job: Job, limits: object) -> str:
        runs.append(job)
        if job is jobs[1]:
            raise EOFError
        return "done"

    monkeypatch.setattr(lanes._Lane, "run", run)
    results = {job.key: told for job, told in lanes.run_in_lanes(jobs, 1, ANY)}
    assert "the process that drew it ended" in results.pop(jobs[1].key)
    assert set(results.values()) == {"done"}
    assert runs.count(jobs[1]) == 1 + lanes.RETRIES


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="processes can't be kept")
def test_every_core_has_as_many_processes_to_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {5, 3})
    assert cores() == 2
    assert lanes.places(1) == [None]
    assert lanes.places(2) == [{3}, {5}]
    assert lanes.places(5) == [{3}, {5}, {3}, {5}, None]


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="processes can't be kept")
@pytest.mark.skipif(cores() < 2, reason="there is one core")
def test_what_a_process_starts_keeps_to_its_core(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    psutil = pytest.importorskip("psutil")
    count = cores()
    jobs = jobs_of(recipes(tmp_path, count), tmp_path / "out")
    places: dict[int, set[int]] = {}
    run = lanes._Lane.run

    def watched(lane: lanes._Lane, job: Job, limits: Limits) -> dict[str, Any] | str:
        told = run(lane, job, limits)
        process = psutil.Process(lane._worker.pid)
        for one in (process, *process.children(recursive=True)):
            places[one.pid] = set(one.cpu_affinity())
        return told

    monkeypatch.setattr(lanes._Lane, "run", watched)
    told = [result for _, result in lanes.run_in_lanes(jobs, count, ANY)]
    assert all(isinstance(result, dict) for result in told)
    # Each has an engine of its own, and keeps to one core with it.
    assert len(places) == 2 * count
    assert {len(place) for place in places.values()} == {1}
    assert len(set.union(*places.values())) == count


def test_a_fault_of_ours_fails_one_job_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = jobs_of(recipes(tmp_path, 1), tmp_path / "out")[0]
    monkeypatch.setattr(running, "run_job", mock.Mock(side_effect=ValueError("no such thing")))
    assert running.attempt(job, ANY) == f"{job.file}: ValueError: no such thing"


def test_an_engine_s_failure_names_design_motif_cause_and_a_way_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipes(tmp_path, 1)
    monkeypatch.chdir(tmp_path)
    job = jobs_of([Path("d000.toml")], Path("out"))[0]
    failure = CairoFailure("ValueError: no such colour", 0)
    monkeypatch.setattr(CairoDocument, "draw", mock.Mock(side_effect=failure))
    told = str(running.attempt(job, ANY))
    for part in ("d000.toml", "“bloom”", "ValueError: no such colour", "--engine resvg"):
        assert part in told
    assert str(tmp_path) not in told


def test_planning_reads_no_art_and_imports_nothing_heavy() -> None:
    program = (
        "import sys, vecrepeat.batch.work\n"
        "print([n for n in ('numpy', 'shapely', 'lxml', 'PIL', 'cairosvg') if n in sys.modules])"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert run.stdout.strip() == "[]"


def test_one_that_fails_does_not_stop_the_others(tmp_path: Path) -> None:
    paths = recipes(tmp_path, 1)
    text = paths[0].read_text() + '[[print]]\nname = "huge"\ndpi = 100000\nwidth = "9000m"\n'
    paths[0].write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    done = run_batch(jobs_of(paths, out), out, processes=1)
    assert (done.written, len(done.failed)) == (4, 2)
    assert all("too large" in reason for _, reason in done.failed)
    # What is sent on with the files tells nothing of this machine, and may be moved with them.
    assert str(tmp_path) not in (out / MANIFEST).read_text(encoding="utf-8")
    (tmp_path / "studio").mkdir()
    for name in ("out", "art.svg", "d000.toml"):
        (tmp_path / name).rename(tmp_path / "studio" / name)
    out = tmp_path / "studio" / "out"
    assert run_batch(jobs_of([out.parent / "d000.toml"], out), out, processes=1).kept == 4


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        (Limits(formats=("jpg",)), "takes no .png"),
        (Limits(max_side=10), "longer than the receiver's 10 px"),
        (Limits(max_pixels=100), "more than the receiver's 100"),
        (Limits(max_bytes=50), "the receiver takes 50"),
    ],
)
def test_the_receiver_s_limits_are_held(tmp_path: Path, limits: Limits, told: str) -> None:
    out = tmp_path / "out"
    jobs = jobs_of(recipes(tmp_path, 1, prints=1), out, only=[AS_DRAWN])
    done = run_batch(jobs, out, processes=1, limits=limits)
    assert told in done.failed[0][1]
    assert not hashes(out)


def test_what_is_there_already_is_held_to_the_receiver_s_limits_too(tmp_path: Path) -> None:
    out = tmp_path / "out"
    jobs = jobs_of(recipes(tmp_path, 1), out)
    assert run_batch(jobs, out, processes=1).written == 4
    # The prints are 57 and 71 px wide.
    done = run_batch(jobs, out, processes=1, limits=Limits(max_side=60))
    assert (done.written, done.kept, len(done.failed)) == (0, 2, 2)
    assert all("71 × 71 px is longer" in reason for _, reason in done.failed)
    assert len(json.loads((out / MANIFEST).read_text())["files"]) == 2


def test_a_dry_run_tells_what_the_receiver_would_not_take(tmp_path: Path) -> None:
    (path,) = recipes(tmp_path, 1, prints=1)
    text = path.read_text() + '[[print]]\nname = "v"\nformat = "pdf"\nsheet = "2x1m"\n'
    path.write_text(text, encoding="utf-8")
    jobs = jobs_of([path], tmp_path / "out", only=[AS_DRAWN])
    pixels, vectors = planned(jobs, Limits(formats=("png",), max_side=10))
    assert "57 × 57 px is longer than the receiver's 10 px" in str(pixels.refused)
    assert "takes no .pdf" in str(vectors.refused)
    # The size that pixels have: 57 at 72 to the inch.
    assert "57 × 57 px, 20.11 mm × 20.11 mm, about" in pixels.line()
    assert ": 2000 mm × 1000 mm, about" in vectors.line(), "a PDF has no pixels"
    assert not any(one.refused for one in planned(jobs))
    shop = tmp_path / "shop.toml"
    shop.write_text('formats = ["png"]\n')
    run = vecrepeat("batch", path, "-o", tmp_path / "out", "--dry-run", "--limits", shop)
    assert run.code == 2
    assert run.err.count("would fail: ") == 2, "the PDF in both colourways"
    assert not (tmp_path / "out").exists()


def test_limits_are_read_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text('formats = [".PNG", "jpg"]\nmax-bytes = 1000\n')
    assert read_limits(path) == Limits(formats=("png", "jpg"), max_bytes=1000)
    path.write_text("max-bytes = -1\n")
    with pytest.raises(InputError, match="no limit"):
        read_limits(path)


def test_a_dry_run_says_sizes_and_writes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    listed = list(planned(jobs_of(recipes(tmp_path, 1), out)))
    assert [(p.width, p.height) for p in listed[:2]] == [(57, 57), (71, 71)]
    assert all(p.bytes > 0 for p in listed)
    assert not out.exists()


@pytest.mark.parametrize("ending", ["png", "jpg", "pdf"])
def test_a_dry_run_s_sizes_are_within_a_quarter(tmp_path: Path, ending: str) -> None:
    # A tile of 945 × 1,386 px, drawn whole for the estimate, and one so large that it is sampled.
    path = tmp_path / "ogee.toml"
    prints = "".join(
        f'[[print]]\nname = "p{dpi}"\ndpi = {dpi}\nformat = "{ending}"\n' for dpi in (200, 350)
    )
    path.write_text(f'art = "{DEMO / "ogee.svg"}"\n{prints}', encoding="utf-8")
    out = tmp_path / "out"
    jobs = jobs_of([path], out)
    told = {Path(p.file).name: p.bytes for p in planned(jobs)}
    done = run_batch(jobs, out, processes=1)
    assert len(done.records) == 2
    for record in done.records:
        assert told[Path(record["file"]).name] == pytest.approx(record["bytes"], rel=0.25)


@pytest.mark.parametrize(
    ("extra", "told"),
    [
        ('[[print]]\nname = "p0"\n', "two jobs would both write"),
        ('[[print]]\nformat = "doc"\n', "does not write"),
    ],
)
def test_what_can_not_be_named_is_refused(tmp_path: Path, extra: str, told: str) -> None:
    path = recipes(tmp_path, 1)[0]
    path.write_text(path.read_text() + extra, encoding="utf-8")
    out = tmp_path / "out"
    try:
        done = run_batch(jobs_of([path], out), out, processes=1)
        reasons = [reason for _, reason in done.failed]
    except InputError as error:
        reasons = [str(error)]
    assert any(told in reason for reason in reasons)


def test_an_unknown_colourway_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no recipe has the colourway “dawn”"):
        jobs_of(recipes(tmp_path, 1), tmp_path / "out", only=["dawn"])


def test_a_cluster_writes_the_same_files_though_a_worker_dies(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    paths = recipes(tmp_path, 3, prints=3)
    alone = tmp_path / "alone"
    run_batch(jobs_of(paths, alone), alone, processes=1)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        killed: list[int] = []

        def kill_one(finished: int) -> None:
            if not killed:
                worker = next(iter(cluster.workers.values()))
                killed.append(worker.pid)
                os.kill(worker.pid, signal.SIGKILL)

        out = tmp_path / "cluster"
        done = run_batch(
            jobs_of(paths, out), out, scheduler=cluster.scheduler_address, progress=kill_one
        )
    assert killed
    assert not done.failed
    assert hashes(out) == hashes(alone)


def test_no_scheduler_is_one_clear_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "PATIENCE", 0.5)
    pytest.importorskip("distributed")
    out = tmp_path / "out"
    jobs = jobs_of(recipes(tmp_path, 1), out)
    with pytest.raises(InputError, match="can't be reached"):
        run_batch(jobs, out, scheduler="tcp://127.0.0.1:9")
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match="install distributed"):
        run_batch(jobs, out, scheduler="tcp://127.0.0.1:9")
    assert not out.exists()


def test_a_print_may_be_a_cut_of_cloth_in_a_profile_s_colours(tmp_path: Path) -> None:
    from PIL import ImageCms

    (tmp_path / "art.svg").write_text(svg(BODY), encoding="utf-8")
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    (tmp_path / "cloth.icc").write_bytes(profile.tobytes())
    recipe = tmp_path / "r.toml"
    recipe.write_text(
        'art = "art.svg"\n[[print]]\nname = "cut"\ncloth = "fat-quarter"\nbolt = "110cm"\n'
        'dpi = 20\nformat = "tif"\nprofile = "cloth.icc"\n',
        encoding="utf-8",
    )
    out = tmp_path / "out"
    done = run_batch(jobs_of([recipe], out), out, processes=1)
    assert not done.failed, done.failed
    (record,) = done.records
    # 21 × 18 in: common practice, no source.
    with Image.open(out / record["file"]) as image:
        assert image.size == (420, 360)
        assert image.info["icc_profile"]
    # Another profile under the same name makes it another file.
    (tmp_path / "cloth.icc").write_bytes(
        ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes() + b"\0"
    )
    assert run_batch(jobs_of([recipe], out), out, processes=1).written == 1


def test_a_second_batch_in_another_folder_finds_its_files(
    here: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first has more processes than jobs; one left over would look in the first's folder."""
    assert vecrepeat("batch", "d.toml", "-o", "out", "--processes", "3").code == 0
    other = tmp_path_factory.mktemp("other")
    (here / "art.svg").rename(other / "art.svg")
    (here / "d.toml").rename(other / "e.toml")
    monkeypatch.chdir(other)
    run = vecrepeat("batch", "e.toml", "-o", "out", "--processes", "1")
    assert run.code == 0, run.err
