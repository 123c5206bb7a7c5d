"""How fast and how small: ``python tests/benchmarks [--runs N] [PART …]``.

Every row of a table is measured beside the others of that table in one run: whole processes,
in turn, each other round in reverse order, medians of wall seconds and the largest peak of
memory. What counts are ratios: seconds change with the machine. Nothing here fails on a time;
a bar is what the project has set itself, shown beside what was found.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

from families import family_recipes, show, stages
from processes import Command, Costs, side_by_side, size_of

HERE = Path(__file__).resolve().parent
DEMO = HERE.parents[1] / "demo-svg"
GARDEN, BROOK = DEMO / "night-garden.svg", DEMO / "brook.svg"
PROGRAM = [sys.executable, "-m", "vecrepeat"]
RESVG = (
    "import pathlib, resvg_py, sys; art, out, width, height = sys.argv[1:]; "
    "pathlib.Path(out).write_bytes(bytes(resvg_py.svg_to_bytes(svg_path=art, width=int(width), "
    "height=int(height), dpi=96, skip_system_fonts=True)))"
)


class Bar(NamedTuple):
    """A number that was found and the one it is held against."""

    what: str
    found: float
    limit: float
    least: bool = False
    unit: str = ""

    def line(self) -> str:
        met = self.found >= self.limit if self.least else self.found <= self.limit
        sign = "≥" if self.least else "≤"
        return (
            f"  {'met   ' if met else 'MISSED'}  {self.what}: {self.found:.2f}{self.unit} "
            f"(bar {sign} {self.limit:g}{self.unit})"
        )


def vecrepeat(*arguments: str | Path) -> list[str]:
    """A call of our command line."""
    return [*PROGRAM, *map(str, arguments)]


def table(
    title: str, costs: Mapping[str, Costs], base: str, files: Mapping[str, Path] | None = None
) -> None:
    """Print one table: ratios are to the row ``base``, ``files`` what each row has written."""
    print(f"\n{title}")
    print(f"  {'':34}{'seconds':>9}{'range':>15}{'ratio':>8}{'cpu s':>9}{'peak MB':>9}")
    for name, cost in costs.items():
        ratio = f"{cost.seconds / costs[base].seconds:.2f}" if base in costs else "–"
        file = (files or {}).get(name)
        note = f"{size_of(file):.1f} MB written" if file else ""
        took = f"{cost.seconds:9.2f}{cost.spread:>15}{ratio:>8}{cost.busy:9.2f}{cost.peak:9.0f}"
        print(f"  {name:34}{took}  {note}".rstrip())


def sheet(folder: Path, runs: int) -> list[Bar]:
    """A cut of cloth of each demo, beside renderers of the pattern file and its own floor."""
    return [bar for art in (GARDEN, BROOK) for bar in _sheet(art, folder, runs)]


def _sheet(art: Path, folder: Path, runs: int) -> list[Bar]:
    size, (width, height) = "54x36in", ("16200", "10800")
    pattern, name = folder / f"{art.stem}-pattern.svg", art.stem
    composing = vecrepeat("compose", art, "-o", pattern, "--sheet", size)
    subprocess.run(composing, check=True, capture_output=True)
    rows = ("ours", "floor", "librsvg", "cairosvg", "resvg")
    out = {row: folder / f"{name}-{row}.png" for row in rows}
    ours = vecrepeat("export", art, "-o", out["ours"], "--dpi", "300", "--sheet", size)
    subprocess.run(ours, check=True, capture_output=True)
    count = str(out["ours"].stat().st_size)
    floor = [sys.executable, str(HERE / "floor.py"), str(art), str(out["floor"]), count]
    jobs: dict[str, Command] = {"ours": ours, "floor": floor}
    if rsvg := shutil.which("rsvg-convert"):
        sides = ["-w", width, "-h", height]
        jobs["librsvg"] = [rsvg, "--unlimited", *sides, "-o", str(out["librsvg"]), str(pattern)]
    if art == GARDEN:
        sides = ["--output-width", width, "--output-height", height]
        files = [str(pattern), "-o", str(out["cairosvg"])]
        jobs["cairosvg"] = [sys.executable, "-m", "cairosvg", *files, *sides]
        files = [str(pattern), str(out["resvg"])]
        jobs["resvg"] = [sys.executable, "-c", RESVG, *files, width, height]
    costs = side_by_side(jobs, runs)
    table(f"{name}, {size} at 300 dpi ({width} × {height} px)", costs, "ours", out)
    if "ours" not in costs:
        return []
    took = costs["ours"].seconds
    bars = [
        Bar(f"{row} over ours, {name}", costs[row].seconds / took, least, True, " ×")
        for row, least in (("librsvg", 6), ("cairosvg", 8), ("resvg", 15))
        if row in costs
    ]
    if "floor" in costs:
        over = took / costs["floor"].seconds
        bars.append(Bar(f"ours over the floor, {name}", over, 1.5, unit=" ×"))
    return [*bars, Bar(f"peak memory of {name}'s sheet", costs["ours"].peak, 400, unit=" MB")]


def roll(folder: Path, runs: int) -> list[Bar]:
    """A roll of wallpaper beside the one tile it is made of, and one ten times as long."""
    print_size = ["--layout", "half-drop", "--repeat-width", "53cm", "--dpi", "300"]
    out = {name: folder / f"{name}.png" for name in ("tile", "block", "roll", "long")}
    extra = {
        "tile": [],
        "block": ["--block"],
        "roll": ["--sheet", "53cmx10.05m"],
        "long": ["--sheet", "53cmx100.5m"],
    }
    names = {
        "tile": "tile, 53 × 64 cm",
        "block": "block, 106 × 64 cm",
        "roll": "roll, 0.53 × 10.05 m",
        "long": "long roll, 0.53 × 100.5 m",
    }
    jobs: dict[str, Command] = {
        names[key]: vecrepeat("export", BROOK, "-o", out[key], *print_size, *extra[key])
        for key in names
    }
    costs = side_by_side(jobs, runs)
    table(
        "Brook, half-drop at 300 dpi", costs, names["tile"], {names[k]: f for k, f in out.items()}
    )
    if len(costs) < len(names):
        return []
    took = {key: costs[names[key]] for key in names}
    seconds = took["long"].seconds - took["roll"].seconds
    written = size_of(out["long"]) - size_of(out["roll"])
    speed = f", {written / seconds:.0f} MB/s" if seconds > 0 else ""
    print(f"  ten times the length: {seconds:+.2f} s for {written:+.1f} MB{speed}")
    # Exporting the tile is one tile render plus one band, and the start of the program.
    return [
        Bar("roll over tile", took["roll"].seconds / took["tile"].seconds, 1.5, unit=" ×"),
        Bar("peak memory of the block", took["block"].peak, 400, unit=" MB"),
        Bar("peak memory of the roll", took["roll"].peak, 400, unit=" MB"),
        Bar("peak memory of the long roll", took["long"].peak, 400, unit=" MB"),
    ]


def many(folder: Path, runs: int) -> list[Bar]:
    """Composing thousands of motifs."""
    jobs: dict[str, Command] = {}
    for kind in ("flowers", "emoji"):
        maker = [sys.executable, str(HERE / "drawings.py"), kind, str(folder), "5000"]
        made = subprocess.run(maker, capture_output=True, text=True)
        if made.returncode != 0:
            print(f"  {kind}: {made.stderr.strip().splitlines()[-1]}")
            continue
        art = Path(made.stdout.strip())
        text = art.read_text(encoding="utf-8")
        count = text.count('<g id="spray-') + text.count('<g id="emoji-')
        name = f"{count:,} {kind}"
        jobs[f"{name}, {size_of(art):.1f} MB"] = vecrepeat(
            "compose", art, "-o", folder / f"{kind}-repeat.svg", "--layout", "half-drop"
        )
    costs = side_by_side(jobs, runs)
    table("Composing many motifs, half-drop", costs, next(iter(costs), ""))
    return [Bar(f"compose {name}", cost.seconds, 5, unit=" s") for name, cost in costs.items()]


def start(folder: Path, runs: int) -> list[Bar]:
    """How soon the program answers."""
    jobs: dict[str, Command] = {
        "vecrepeat --help": vecrepeat("--help"),
        "python -c pass": [sys.executable, "-c", "pass"],
    }
    costs = side_by_side(jobs, max(10, runs), warm_up=True)
    table("Start", costs, "python -c pass")
    return [Bar("vecrepeat --help", costs["vecrepeat --help"].seconds, 0.25, unit=" s")]


def tiles(folder: Path, runs: int) -> list[Bar]:
    """One print tile of each demo, read anew and read before, beside librsvg's."""
    jobs: dict[str, Command] = {}
    for art in (GARDEN, BROOK):
        ours = vecrepeat("export", art, "-o", folder / f"{art.stem}.png", "--dpi", "300")
        composed = folder / f"{art.stem}.svg"
        composing = vecrepeat("compose", art, "-o", composed)
        subprocess.run(composing, check=True, capture_output=True)
        kept = ["env", f"VECREPEAT_CACHE={folder / 'cache'}", *ours]
        subprocess.run(kept, check=True, capture_output=True)
        jobs |= {art.stem: ours, f"{art.stem} again": kept}
        if rsvg := shutil.which("rsvg-convert"):
            out = str(folder / f"{art.stem}-rsvg.png")
            options = ["--unlimited", "-d", "300", "-p", "300", "-o", out]
            jobs[f"{art.stem} by librsvg"] = [rsvg, *options, str(composed)]
    costs = side_by_side(jobs, runs)
    table("One tile at 300 dpi", costs, GARDEN.stem)
    bars = []
    for name in (GARDEN.stem, BROOK.stem):
        other = costs.get(f"{name} by librsvg")
        for row, most in ((name, 1.5), (f"{name} again", 1.0)):
            if other is not None and row in costs:
                over = costs[row].seconds / other.seconds
                bars.append(Bar(f"tile of {row} over librsvg's", over, most, unit=" ×"))
        if name in costs:
            bars.append(Bar(f"peak memory of {name}'s tile", costs[name].peak, 400, unit=" MB"))
    return bars


def families(folder: Path, _: int) -> list[Bar]:
    """Flat, rich and pixel art through every stage, each run once."""
    recipes = family_recipes(folder, PROGRAM)
    found = {name: stages(folder, name, recipe, PROGRAM) for name, recipe in recipes.items()}
    print("\nThree families through every stage, each run once")
    show(found)
    bars = []
    for name, most, least in (("rich", 1.0, 4), ("pixel", 0.6, 4)):
        costs = found[name]
        for stage, limit in (("tile", most), ("sheet", least)):
            other = costs.get(f"{stage} by resvg")
            if stage in costs and other is not None:
                ours = costs[stage].seconds
                if stage == "tile":
                    bars.append(Bar(f"{name} tile over resvg's", ours / other.seconds, limit))
                else:
                    told = f"resvg's {name} sheet over ours"
                    bars.append(Bar(told, other.seconds / ours, limit, least=True, unit=" ×"))
    if "again" in found["rich"]:
        bars.append(Bar("read rich art again", found["rich"]["again"].seconds, 0.5, unit=" s"))
    return bars


PARTS: dict[str, Callable[[Path, int], list[Bar]]] = {
    "start": start,
    "tiles": tiles,
    "many": many,
    "roll": roll,
    "sheet": sheet,
    "families": families,
}


def facts() -> None:
    """Print what the numbers depend on."""
    names = ("cairosvg", "cairocffi", "lxml", "numpy", "resvg-py", "shapely")
    print(
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, "
        f"load {os.getloadavg()[0]:.1f}, Python {platform.python_version()}"
    )
    found = [f"{name} {importlib.metadata.version(name)}" for name in names if _installed(name)]
    if rsvg := shutil.which("rsvg-convert"):
        told = subprocess.run([rsvg, "--version"], capture_output=True, text=True)
        found.append(told.stdout.strip())
    print(", ".join(found))


def _installed(name: str) -> bool:
    try:
        importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return False
    return True


def main() -> None:
    parser = argparse.ArgumentParser(prog="python tests/benchmarks", description=__doc__)
    parser.add_argument("--runs", type=int, default=3, metavar="N", help="rounds (default 3)")
    parser.add_argument("part", nargs="*", help=f"of {', '.join(PARTS)}; all if none is given")
    options = parser.parse_args()
    if unknown := [part for part in options.part if part not in PARTS]:
        parser.error(f"unknown part {unknown[0]}; there are {', '.join(PARTS)}")
    facts()
    bars: list[Bar] = []
    for name in options.part or PARTS:
        with tempfile.TemporaryDirectory(prefix="vecrepeat-bench-") as folder:
            bars += PARTS[name](Path(folder), max(1, options.runs))
    print(f"\nBars, load now {os.getloadavg()[0]:.1f}")
    for bar in bars:
        print(bar.line())


if __name__ == "__main__":
    main()
