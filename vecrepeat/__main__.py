"""``python -m vecrepeat``."""

from vecrepeat.cli import main

main()
