"""Who is let in from the network: the one who has the word, in time, while there is room."""

from __future__ import annotations

import re

import pytest

from vecrepeat.board.pairing import IN_A_WORD, TRIES, WORDS, Pairing
from vecrepeat.core.errors import InputError


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def refused(pairing: Pairing, word: str) -> str:
    with pytest.raises(InputError) as error:
        pairing.pair(word, "192.0.2.7")
    return str(error.value)


def test_words_are_as_many_as_is_said() -> None:
    assert len(set(WORDS)) == len(WORDS) == 64
    assert 64**IN_A_WORD == 16_777_216
    # No two words run together are others: what stands between is not looked at.
    assert not {a + b for a in WORDS for b in WORDS} & set(WORDS)
    assert len({Pairing().word for _ in range(50)}) > 45


def test_the_word_lets_one_device_in_and_is_used_up() -> None:
    pairing = Pairing(2)
    word = pairing.word
    token = pairing.pair(word.upper().replace(" ", "-"), "192.0.2.7")
    assert pairing.knows(token)
    assert not pairing.knows("")
    assert not pairing.knows(token[:-1])
    assert pairing.word != word
    assert "not the word" in refused(pairing, word)


def test_wrong_words_slow_down_and_stop_until_the_person_says_so() -> None:
    clock = Clock()
    pairing = Pairing(clock=clock)
    word, waits = pairing.word, []
    for _ in range(TRIES - 1):
        said = refused(pairing, "velvet")
        waits.append(int(re.findall(r"in (\d+) s", said)[0]))
        # Too soon, nothing is looked at: neither the right word nor one more wrong one counts.
        clock.now += waits[-1] - 0.5
        assert "too soon: try again in 1 s" in refused(pairing, word)
        clock.now += 0.5
    assert waits == [2, 4, 8, 16]
    assert "closed" in refused(pairing, "velvet")
    clock.now += 1e6
    assert "closed" in refused(pairing, word)
    pairing.reopen()
    assert pairing.word != word
    assert pairing.knows(pairing.pair(pairing.word, "192.0.2.7"))


def test_a_second_device_waits_until_the_first_is_let_go() -> None:
    pairing = Pairing()
    first = pairing.pair(pairing.word, "192.0.2.7")
    assert "--devices 2" in refused(pairing, pairing.word)
    pairing.let_go(1)
    assert not pairing.knows(first)
    second = pairing.pair(pairing.word, "192.0.2.8")
    assert pairing.knows(second)
    assert [(one.number, one.at) for one in pairing.devices] == [(2, "192.0.2.8")]
