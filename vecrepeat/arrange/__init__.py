"""Arranging: motifs placed in the repeated plane.

Pure geometry: nothing here reads or writes files. :func:`toss` strews motifs over the cloth,
:func:`fill` puts fillers into its voids.
"""

from vecrepeat.arrange.filling import fill
from vecrepeat.arrange.results import Filled, Row, Tossed
from vecrepeat.arrange.settings import FillSettings, Rank, Ranked, RankSettings, TossSettings
from vecrepeat.arrange.tossing import toss
from vecrepeat.arrange.voids import EmptyCircle, largest_empty_circle
from vecrepeat.pose import Pose, anchor

__all__ = [
    "EmptyCircle",
    "FillSettings",
    "Filled",
    "Pose",
    "Rank",
    "RankSettings",
    "Ranked",
    "Row",
    "TossSettings",
    "Tossed",
    "anchor",
    "fill",
    "largest_empty_circle",
    "toss",
]
