"""The process of a batch that runs one job after another; started by :mod:`vecrepeat.batch.lanes`.

A message is a job and the receiver's limits; the answer is the file's record, or the one line that
says why there is none.
"""

from __future__ import annotations

from vecrepeat.batch.running import attempt
from vecrepeat.util.inbox import answer_objects

if __name__ == "__main__":
    answer_objects(lambda asked: attempt(*asked))
