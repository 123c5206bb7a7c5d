"""Three families of art through every stage: flat shapes, gradients with filters, pixels.

``python tests/benchmarks families`` runs it. Flat is the night garden; rich art is drawn here, or
is a folder of yours named by ``VECREPEAT_RICH``; pixel motifs are the rich ones as 900 px PNG
with alpha. Each is tossed to 120, 120 and 24 motifs on a tile of 10 in.
"""

from __future__ import annotations

import math
import os
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

from processes import Command, Costs, side_by_side

SIDE = 900
"""Longest side of a pixel motif in pixels."""

LIMIT = "900"
"""Seconds after which a stage is given up."""

RESVG = (
    "import pathlib, resvg_py, sys; art, out, width, height = sys.argv[1:]; "
    "pathlib.Path(out).write_bytes(bytes(resvg_py.svg_to_bytes(svg_path=art, width=int(width), "
    "height=int(height), dpi=96, skip_system_fonts=True)))"
)


def blossom(number: int) -> str:
    """Return a flower of gradients with a shadow inside and a soft light, as a drawing."""
    rng = random.Random(number)
    hue = rng.randrange(360)
    stops = "".join(
        f'<stop offset="{at}" stop-color="hsl({(hue + by) % 360} 70% {light}%)"/>'
        for at, by, light in ((0, 0, 78), (0.6, 20, 58), (1, 40, 38))
    )
    petals = "".join(
        f'<path d="M50 50C{30 + k}  30 {38 + k} 8 50 6S{70 - k} 30 50 50Z" fill="url(#g)" '
        f'transform="rotate({k * 360 / 7:.1f} 50 50)" filter="url(#inner)"/>'
        for k in range(5 + number % 3)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100"><defs>'
        f'<radialGradient id="g" cx=".5" cy=".9" r="1">{stops}</radialGradient>'
        '<filter id="inner"><feFlood flood-opacity="0" result="b"/><feBlend in="SourceGraphic" '
        'in2="b" result="s"/><feOffset in="SourceAlpha" dy="2"/><feGaussianBlur '
        'stdDeviation="1.5"/><feComposite in2="SourceAlpha" operator="arithmetic" k2="-1" '
        'k3="1"/><feBlend in2="s"/></filter><filter id="soft"><feGaussianBlur '
        f'stdDeviation="2"/></filter></defs>{petals}<circle cx="50" cy="50" r="9" '
        f'fill="hsl({math.fmod(hue + 60, 360):.0f} 80% 60%)"/><ellipse cx="47" cy="46" rx="5" '
        'ry="3" fill="#fff" opacity=".7" filter="url(#soft)"/></svg>'
    )


def _run(command: Command) -> None:
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"{' '.join(command)[-120:]}: {done.stderr.strip()[-300:]}")


def family_recipes(folder: Path, call: list[str]) -> dict[str, Path]:
    """Write a recipe of each family; return them by name."""
    rich, pixel = folder / "rich", folder / "pixel"
    if given := os.environ.get("VECREPEAT_RICH"):
        shutil.copytree(given, rich)
    else:
        rich.mkdir()
        for number in range(9):
            (rich / f"blossom-{number}.svg").write_text(blossom(number), encoding="utf-8")
    pixel.mkdir()
    for file in sorted(rich.glob("*.svg"))[:9]:
        _run([sys.executable, "-c", RESVG, str(file), f"{pixel / file.stem}.png", *[str(SIDE)] * 2])
    garden = Path(__file__).resolve().parents[2] / "demo-svg" / "night-garden.svg"
    recipes = {}
    for name, source, counts in (
        ("flat", garden, (10, 40, 70)),
        ("rich", rich, (20, 40, 60)),
        ("pixel", pixel, (6, 8, 10)),
    ):
        recipe = recipes[name] = folder / f"{name}.toml"
        _run([*call, "recipe", str(source), "-o", str(recipe), "--tile", "10x10in"])
        widths = {"hero": 28, "secondary": 20, "filler": 14}
        if name != "pixel":
            text = recipe.read_text(encoding="utf-8")
            for rank, width in widths.items():
                told = rf'(rank = "{rank}", width = ")[^"]*"'
                text = re.sub(told, rf'\g<1>{width}mm"', text)
            recipe.write_text(text, encoding="utf-8")
        numbers = zip(("--heroes", "--secondaries", "--fillers"), map(str, counts), strict=True)
        options = [part for pair in numbers for part in pair]
        _run([*call, "toss", str(recipe), "--again", "--clearance", "0.8mm", *options])
    return recipes


def stages(folder: Path, name: str, recipe: Path, call: list[str]) -> dict[str, Costs]:
    """Return what each stage took of one family, run once."""
    out = folder / name
    out.mkdir()
    kept = ["env", f"VECREPEAT_CACHE={folder / 'cache'}"]
    plain, known = [*call], [*kept, *call]
    svg, sheet = str(out / "tile.svg"), str(out / "sheet.svg")
    tossed = str(out / "tossed.toml")
    _run([*known, "compose", str(recipe), "-o", svg])
    _run([*known, "compose", str(recipe), "-o", sheet, "--sheet", "54x36in"])
    jobs: dict[str, Command] = {
        "read": [*plain, "motifs", str(recipe)],
        "again": [*known, "motifs", str(recipe)],
        "toss": [*known, "toss", str(recipe), "--again", "-o", tossed],
        "check": [*known, "check", str(recipe)],
        "palette": [*known, "palette", str(recipe)],
        "colourways": [
            *(*known, "colourways", str(recipe), "-o", str(out / "ways")),
            *("--suggest", "3"),
        ],
        "proof": [*known, "proof", str(recipe), "-o", str(out / "proof.pdf")],
        "tile": [*known, "export", str(recipe), "-o", str(out / "tile.png"), "--dpi", "200"],
        "tile by resvg": [sys.executable, "-c", RESVG, svg, f"{svg}.png", "2000", "2000"],
        "sheet": [
            *(*known, "export", str(recipe), "-o", str(out / "sheet.png")),
            *("--dpi", "300", "--sheet", "54x36in"),
        ],
        "sheet by resvg": [sys.executable, "-c", RESVG, sheet, f"{sheet}.png", "16200", "10800"],
        "plates": [
            *(*known, "separate", str(recipe), "-o", str(out / "plates")),
            *("--colours", "6", "--soft", "tint", "--dpi", "150"),
        ],
    }
    return side_by_side({k: ["timeout", LIMIT, *v] for k, v in jobs.items()}, 1)


def show(found: Mapping[str, Mapping[str, Costs]]) -> None:
    """Print the families side by side: wall seconds, processor seconds, peak memory."""
    print(f"\n{'':16}" + "".join(f"{name + ': s, cpu s, MB':>26}" for name in found))
    for stage in next(iter(found.values())):
        cells = (
            f"{c.seconds:10.2f}{c.busy:9.2f}{c.peak:7.0f}" if c is not None else f"{'–':>26}"
            for c in (costs.get(stage) for costs in found.values())
        )
        print(f"{stage:16}" + "".join(cells))
