"""Arranging: motifs placed in the repeated plane.

Pure geometry: nothing here reads or writes files. :func:`toss` strews motifs over the cloth,
:func:`fill` puts fillers into its voids; :func:`lay_set`, :func:`lay_stripes`,
:func:`lay_trail` and :func:`lay_ditsy` are the trade's other ways.
"""

from vecrepeat.arrange.ditsies import DitsySettings, lay_ditsy
from vecrepeat.arrange.filling import fill
from vecrepeat.arrange.results import Arrangement, Filled, Row
from vecrepeat.arrange.sets import SetSettings, lay_set
from vecrepeat.arrange.settings import FillSettings, Ranked, RankSettings, TossSettings
from vecrepeat.arrange.stripes import StripeSettings, lay_stripes
from vecrepeat.arrange.tossing import toss
from vecrepeat.arrange.trails import TrailSettings, lay_trail
from vecrepeat.arrange.voids import EmptyCircle, largest_empty_circle
from vecrepeat.repeat.pose import Pose, anchor
from vecrepeat.repeat.ranks import Rank

__all__ = [
    "Arrangement",
    "DitsySettings",
    "EmptyCircle",
    "FillSettings",
    "Filled",
    "Pose",
    "Rank",
    "RankSettings",
    "Ranked",
    "Row",
    "SetSettings",
    "StripeSettings",
    "TossSettings",
    "TrailSettings",
    "anchor",
    "fill",
    "largest_empty_circle",
    "lay_ditsy",
    "lay_set",
    "lay_stripes",
    "lay_trail",
    "toss",
]
