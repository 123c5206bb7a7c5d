"""Which devices may come in from the network: by a word that stands on the machine's screen.

A word is four of 64: 64⁴ = 16,777,216 there are, all equally likely. After each wrong one the
wait doubles, and after five nobody is let in until the person at the machine says so, with a new
word. So who guesses comes in with a chance of 5 in 16,777,216, one in 3.4 million, each time
that pairing is opened. Waits and tries are counted for all devices together: a guesser may
have many addresses.
"""

from __future__ import annotations

import math
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

from vecrepeat.core.errors import InputError

_LIST = """
apron baize band bolt braid brush button calico canvas chalk chintz cloth coat collar cord
cotton crepe cuff denim dye edge fabric felt fleece frill fringe gauze glove hem hood indigo
jersey knit lace lapel linen loom madder muslin needle nylon patch pin pleat plush pocket
quilt ribbon satin seam selvage shawl silk sleeve spool stitch tailor thread tulle tweed twill
velvet weave wool
"""
WORDS = tuple(_LIST.split())

IN_A_WORD = 4
"""How many of them make a pairing word."""

TRIES = 5
"""How many wrong words close pairing."""

AT_THE_MACHINE = "at the machine that runs the board, under “Tablet”"


@dataclass(frozen=True)
class Device:
    """A device that has been paired.

    Args:
        number: which in this run, from 1.
        at: its address in the network.
        since: when, in seconds since 1970.
    """

    number: int
    at: str
    since: float


class Pairing:
    """The word, the tries, and the devices that came in.

    Args:
        most: how many devices may be paired at once.
        clock: tells seconds that never go back.
    """

    def __init__(self, most: int = 1, clock: Callable[[], float] = time.monotonic) -> None:
        self.most, self._clock = most, clock
        self._devices: dict[str, Device] = {}
        self._count = 0
        self.reopen()

    def reopen(self) -> None:
        """Let words be tried, a new one being the right one."""
        self.word = " ".join(secrets.choice(WORDS) for _ in range(IN_A_WORD))
        self._wrong, self._from = 0, -math.inf

    @property
    def closed(self) -> bool:
        """Whether there have been too many wrong words."""
        return self._wrong >= TRIES

    @property
    def full(self) -> bool:
        """Whether as many devices are paired as may be."""
        return len(self._devices) >= self.most

    @property
    def devices(self) -> list[Device]:
        """The devices that are paired, the first one first."""
        return list(self._devices.values())

    def pair(self, word: str, at: str) -> str:
        """Return a token for a device that has the word; the next device needs another word.

        Args:
            word: what was typed; case and what stands between words are the same.
            at: the device's address.

        Raises:
            InputError: it is not let in; the sentence is for its screen.
        """
        if self.full:
            raise InputError(
                "no more devices may be paired",
                hint=f"let one go {AT_THE_MACHINE}, or start it with --devices {self.most + 1}",
            )
        if self.closed:
            raise _closed()
        wait = math.ceil(self._from - self._clock()) if self._wrong else 0
        if wait > 0:
            raise InputError(f"too soon: try again in {wait} s")
        if not secrets.compare_digest(_plain(word).encode(), _plain(self.word).encode()):
            self._wrong += 1
            if self.closed:
                raise _closed()
            self._from = self._clock() + 2**self._wrong
            raise InputError(f"that is not the word: try again in {2**self._wrong} s")
        self.reopen()
        token = secrets.token_urlsafe(24)
        self._count += 1
        self._devices[token] = Device(self._count, at, time.time())
        return token

    def let_go(self, number: int) -> None:
        """Let a device go: its token is worth nothing any more."""
        self._devices = {t: one for t, one in self._devices.items() if one.number != number}

    def knows(self, token: str) -> bool:
        """Return whether a token is that of a paired device."""
        given = token.encode()
        return any(secrets.compare_digest(given, one.encode()) for one in self._devices)


def _closed() -> InputError:
    return InputError(
        "too many wrong words: pairing is closed", hint=f"open it again {AT_THE_MACHINE}"
    )


def _plain(word: str) -> str:
    return "".join(c for c in word.lower() if c.isalpha())
