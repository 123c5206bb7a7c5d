"""The board offers every turned form and plane group that layouts know."""

from __future__ import annotations

import re
from pathlib import Path

import vecrepeat.board
from vecrepeat.repeat.symmetry import FORMS, GROUPS

MENU = Path(vecrepeat.board.__file__).parent / "static" / "js" / "layouts.js"


def test_no_form_and_no_group_is_missing_from_the_menu() -> None:
    text = MENU.read_text(encoding="utf-8")
    groups = re.search(r"const GROUPS = \[(.*?)\];", text, re.S)
    forms = re.search(r"const FORMS = \[(.*?)\n\];", text, re.S)
    assert groups is not None
    assert forms is not None
    assert set(re.findall(r"'(\w+)'", groups[1])) == set(GROUPS)
    assert set(re.findall(r"\['([\w-]*)',", forms[1])) == {"", *FORMS}
