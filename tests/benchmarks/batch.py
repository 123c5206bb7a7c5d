"""A batch of a thousand files: alone, killed ten times, on a cluster; how fast and in what memory.

Run by hand: ``python tests/benchmarks/batch.py [PART …] [--recipes N]``. The parts:

* ``alone``: the batch undisturbed, with the memory of all its processes as it goes on;
* ``killed``: the same batch killed (-9) at ten random moments, one in each tenth of its files, and
  started again; after every kill each file under a final name must be whole, and in the end all
  SHA-256 those of the undisturbed one;
* ``cluster``: on a Dask LocalCluster of two workers, one of them killed (-9) midway;
* ``cores``: the batch held to one core and then to two, in turn, three times.

Each recipe has four colourways besides the drawing's own, and a PNG tile, a TIFF sheet, a JPEG for
shops and a PDF of each: twenty files.
"""

from __future__ import annotations

import argparse
import colorsys
import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import psutil

from vecrepeat.art.read import read_art
from vecrepeat.batch.jobs import jobs_of
from vecrepeat.batch.work import JOURNAL, MANIFEST, run_batch
from vecrepeat.write.exporting import Exporter

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

DEMO = Path(__file__).parents[2] / "demo-svg"
DRAWINGS = ("ogee", "pomegranate", "ticking-garden")
COLOURWAYS = 4
PRINTS = """
[[print]]
name = "tile"
width = "{width}mm"
dpi = 150
[[print]]
name = "sheet"
width = "{width}mm"
dpi = 100
sheet = "40x30cm"
format = "tif"
[[print]]
name = "shop"
width = "{width}mm"
dpi = 96
sheet = "20x20cm"
format = "jpg"
[[print]]
name = "vector"
width = "{width}mm"
sheet = "140x200cm"
format = "pdf"
"""
KILLS = 10
ROUNDS = 3


def recipes(folder: Path, count: int) -> list[Path]:
    """Write so many recipes of the demo drawings, none like another."""
    made = []
    for number in range(count):
        name = DRAWINGS[number % len(DRAWINGS)]
        path = folder / f"{name}-{number:03}.toml"
        text = [f'art = "{DEMO / name}.svg"', 'layout = "half-drop"']
        colours = Exporter(read_art(DEMO / f"{name}.svg").repeat()).palette()
        for way in range(1, COLOURWAYS + 1):
            turned = ", ".join(f'"{c}" = "{_turned(c, way / 7)}"' for c in colours)
            text.append(f'[[colourway]]\nname = "way {way}"\ncolours = {{ {turned} }}')
        # Small ones and large ones come in turn, so that memory over time tells what is kept.
        prints = PRINTS.format(width=60 + number * 7 % 50)
        path.write_text("\n".join(text) + prints, encoding="utf-8")
        made.append(path)
    return made


def _turned(colour: str, by: float) -> str:
    """A colour of another hue."""
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    hue, light, saturation = colorsys.rgb_to_hls(red, green, blue)
    turned = colorsys.hls_to_rgb((hue + by) % 1, light, saturation)
    return "#" + "".join(f"{round(v * 255):02x}" for v in turned)


def command(paths: Sequence[Path], out: Path) -> list[str]:
    """The call of a batch."""
    return [sys.executable, "-m", "vecrepeat", "batch", *map(str, paths), "-o", str(out)]


def files(out: Path) -> list[Path]:
    """Every file under a final name; what is being written has another."""
    endings = (".png", ".tif", ".jpg", ".pdf")
    found = (file for file in out.glob("*/*") if file.suffix in endings)
    return sorted(file for file in found if not file.name.startswith("."))


def hashes(out: Path) -> dict[str, str]:
    """SHA-256 of every file under a final name."""
    return {
        str(file.relative_to(out)): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in files(out)
    }


def finished(out: Path) -> int:
    """How many files the journal of a running batch lists."""
    try:
        return (out / JOURNAL).read_bytes().count(b"\n")
    except OSError:
        return 0


def watched(call: Sequence[str], out: Path) -> list[tuple[int, float]]:
    """Run a batch to its end; return (files finished, MB of all processes together) over time."""
    child = subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    seen = []
    process = psutil.Process(child.pid)
    while child.poll() is None:
        try:
            family = [process, *process.children(recursive=True)]
            memory = sum(one.memory_info().rss for one in family) / 1e6
        except psutil.Error:
            continue
        seen.append((finished(out), memory))
        time.sleep(0.25)
    assert child.returncode == 0, f"the batch left with {child.returncode}"
    return seen


def load() -> str:
    """The load of the machine, as it is told beside figures."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"


def alone(paths: list[Path], out: Path) -> None:
    """The batch undisturbed; print its memory."""
    begin = time.perf_counter()
    seen = watched(command(paths, out), out)
    took = time.perf_counter() - begin
    count = len(hashes(out))
    records = json.loads((out / MANIFEST).read_text(encoding="utf-8"))["files"]
    assert {r["sha256"] for r in records} == set(hashes(out).values())
    print(f"alone: {count} files in {took:.0f} s ({load()})")
    shares = []
    for k in range(10):
        part = [mb for n, mb in seen if k * count <= n * 10 < (k + 1) * count]
        shares.append(f"{max(part):.0f}" if part else "–")
    print(f"  peak MB of all processes in each tenth of the files: {' '.join(shares)}", flush=True)


def killed(paths: list[Path], out: Path, wanted: dict[str, str], dice: random.Random) -> None:
    """The batch killed again and again."""
    call = command(paths, out)
    total = len(wanted)
    for k in range(KILLS):
        # Any moment of a tenth of the files; a run that is over can't be killed.
        goal = min(int(total * (k + dice.random()) / KILLS), int(total * 0.97))
        child = subprocess.Popen(
            call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, process_group=0
        )
        while child.poll() is None and len(files(out)) < goal:
            time.sleep(0.02)
        time.sleep(dice.random() * 0.3)
        assert child.poll() is None, "it ended before it was killed"
        os.killpg(child.pid, signal.SIGKILL)
        child.wait()
        there = hashes(out)
        assert all(wanted[name] == found for name, found in there.items()), "a file is not whole"
        print(f"  kill {k + 1}: {len(there)} files there, all whole", flush=True)
    before = {name: (out / name).stat().st_mtime_ns for name in hashes(out)}
    subprocess.run(call, capture_output=True, check=True)
    again = sum((out / name).stat().st_mtime_ns != at for name, at in before.items())
    same = hashes(out) == wanted
    print(f"killed {KILLS} times, then run to the end: same hashes: {same}")
    print(f"  written again though whole (their line in the journal was not there yet): {again}")
    left = [f.name for f in out.rglob("*") if f.is_file() and str(f.relative_to(out)) not in wanted]
    print(f"  other files left: {sorted(left)}", flush=True)
    assert same


def cluster(paths: list[Path], out: Path, wanted: dict[str, str]) -> None:
    """The batch on a Dask cluster that loses a worker."""
    from distributed import LocalCluster

    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as here:
        done = 0
        lost: list[int] = []

        def count(finished: int) -> None:
            nonlocal done
            done += finished
            if done >= len(wanted) // 3 and not lost:
                worker = next(iter(here.workers.values()))
                lost.append(worker.pid)
                os.kill(worker.pid, signal.SIGKILL)

        jobs = jobs_of(paths, out)
        begin = time.perf_counter()
        came = run_batch(jobs, out, scheduler=here.scheduler_address, progress=count)
        took = time.perf_counter() - begin
    same = hashes(out) == wanted
    print(
        f"cluster: {came.written} files in {took:.0f} s, worker {lost} killed after a third, "
        f"{len(came.failed)} failed; same hashes: {same}",
        flush=True,
    )
    assert same
    assert lost


def cores(paths: list[Path], folder: Path) -> None:
    """One core against two."""
    best: dict[int, float] = {}
    busy: dict[int, float] = {}
    # As installed: with its modules compiled, whatever is set here.
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = str(folder / "compiled")
    for round_ in range(ROUNDS):
        for count in (1, 2) if round_ % 2 == 0 else (2, 1):
            out = folder / f"cores-{round_}-{count}"
            allowed = set(sorted(os.sched_getaffinity(0))[:count])
            before = os.times()
            begin = time.perf_counter()
            # Not watched: that takes from the second core alone.
            subprocess.run(
                command(paths, out),
                capture_output=True,
                check=True,
                env=env,
                preexec_fn=partial(os.sched_setaffinity, 0, allowed),
            )
            took, after = time.perf_counter() - begin, os.times()
            spent = sum(after[2:4]) - sum(before[2:4])
            print(
                f"  {count} core(s): {took:.1f} s, {spent:.1f} s of processor time ({load()})",
                flush=True,
            )
            if took < best.get(count, float("inf")):
                best[count], busy[count] = took, spent
    count = len(jobs_of(paths, folder / "none"))
    print(
        f"cores: {count} files, best of {ROUNDS}: {best[1]:.1f} s on one, {best[2]:.1f} s on two: "
        f"{best[1] / best[2]:.2f} × (bar ≥ 1.8); of the cores they had, they got "
        f"{busy[1] / best[1]:.0%} and {busy[2] / best[2] / 2:.0%}",
        flush=True,
    )


def main() -> None:
    """Run the parts asked for."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parts = ("alone", "killed", "cluster", "cores")
    parser.add_argument("part", nargs="*", help=f"of {', '.join(parts)}; all if none is given")
    parser.add_argument("--recipes", type=int, default=50, help="twenty files each (default 50)")
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args()
    chosen: Sequence[str] = options.part or parts
    with tempfile.TemporaryDirectory(prefix="vecrepeat-batch-") as name:
        folder = Path(name)
        paths = recipes(folder, options.recipes)
        if set(chosen) & {"alone", "killed", "cluster"}:
            alone(paths, folder / "alone")
            wanted = hashes(folder / "alone")
            dice = random.Random(options.seed)
            rest: dict[str, Callable[[], None]] = {
                "killed": lambda: killed(paths, folder / "killed", wanted, dice),
                "cluster": lambda: cluster(paths, folder / "cluster", wanted),
            }
            for part, run in rest.items():
                if part in chosen:
                    run()
        if "cores" in chosen:
            cores(paths, folder)


if __name__ == "__main__":
    main()
