"""The command line as a program: it shows that it works, stops at once, and keeps within bounds."""

from __future__ import annotations

import signal
import socket
import sys
import threading

from vecrepeat.cli import main
from vecrepeat.cli.progress import telling
from vecrepeat.core.allowance import hold_memory
from vecrepeat.util.stopping import hold_if_stopping, stop


def attended() -> None:
    """Run the command line.

    Ctrl+C is answered by a thread of its own: Python's own answer would wait for whatever
    library is at work, and that can be long.
    """
    heard, bell = socket.socketpair()
    bell.setblocking(False)
    signal.signal(signal.SIGINT, _rung)
    signal.set_wakeup_fd(bell.fileno(), warn_on_full_buffer=False)
    threading.Thread(target=_listen, args=(heard,), daemon=True).start()
    hold_memory()
    try:
        with telling(" ".join(["vecrepeat", *sys.argv[1:2]])):
            main()
    finally:
        hold_if_stopping()


def _rung(*_: object) -> None:
    """Leave it to the thread that listens."""


def _listen(heard: socket.socket) -> None:
    while heard.recv(64):
        # A server that answers Ctrl+C itself has put its own answer in the place of ours.
        if signal.getsignal(signal.SIGINT) is _rung:
            stop(130, "stopped")
