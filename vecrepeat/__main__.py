"""``python -m vecrepeat``, and the program ``vecrepeat``."""

from vecrepeat.cli.attended import attended

if __name__ == "__main__":
    attended()
