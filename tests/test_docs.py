"""The documentation against the code."""

from __future__ import annotations

import re
import runpy
import sys
from pathlib import Path

import pytest

DOCS = Path(__file__).parent.parent / "docs"


@pytest.mark.parametrize("name", ["reference.md", "recipe.md", "collections.md"])
def test_what_is_written_from_the_code_is_up_to_date(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(sys, "argv", ["make_reference.py", str(tmp_path)])
    runpy.run_path(str(DOCS / "make_reference.py"), run_name="__main__")
    assert (DOCS / name).read_text(encoding="utf-8") == (tmp_path / name).read_text(
        encoding="utf-8"
    ), "run python docs/make_reference.py"


@pytest.mark.parametrize("page", [*DOCS.glob("*.md"), DOCS.parent / "README.md"], ids=str)
def test_links_and_pictures_are_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    linked = re.findall(r"\]\(([^)\s#]+)", text) + re.findall(r'src="([^"]+)"', text)
    missing = [link for link in linked if "://" not in link and not (page.parent / link).exists()]
    assert not missing
