"""Every question that check asks has a mark of its own on the picture."""

from __future__ import annotations

from vecrepeat.check.findings import QUESTIONS
from vecrepeat.check.picture import STYLE


def test_each_question_is_marked_in_its_own_way() -> None:
    assert set(STYLE) == set(QUESTIONS)
    assert len(set(STYLE.values())) == len(STYLE)
