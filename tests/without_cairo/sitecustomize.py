"""First on PYTHONPATH, this folder hides the cairo library from Python and all it starts."""

import sys


def _refuse(event: str, arguments: tuple[object, ...]) -> None:
    # The event's name: the table of audit events in Python's documentation.
    if event == "ctypes.dlopen" and "cairo" in str(arguments[0]):
        raise OSError(f"{arguments[0]}: cannot open shared object file")


sys.addaudithook(_refuse)
