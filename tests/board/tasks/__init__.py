"""Whole jobs on the board; see ``__main__``."""
