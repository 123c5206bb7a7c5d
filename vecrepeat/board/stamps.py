"""Whether files are still what they were when they were read."""

from __future__ import annotations

from pathlib import Path

from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import beside
from vecrepeat.recipe.model import Recipe
from vecrepeat.sources.loose import motif_files

Stamp = tuple[int, int, int] | None
"""What tells that a file has changed: its time, size and number; None where it is not there."""


def stamp_of(path: Path) -> Stamp:
    """Return a file's stamp as it is now."""
    try:
        found = path.stat()
    except OSError:
        return None
    return (found.st_mtime_ns, found.st_size, found.st_ino)


def stamps_of(recipe: Recipe | None) -> dict[Path, Stamp]:
    """Return the stamps of a recipe's art as it is now, of a folder those of its motifs."""
    if recipe is None:
        return {}
    found = list(beside(recipe.file, recipe.keys.get("art")))
    for path in beside(recipe.file, recipe.keys.get("loose")):
        try:
            found += motif_files(path)[0]
        except InputError:
            # A folder that is gone or empty: what was seen in it is missing then.
            found.append(path)
    return {path: stamp_of(path) for path in found}
