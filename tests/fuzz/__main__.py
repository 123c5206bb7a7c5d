"""A long fuzz run: ``python tests/fuzz [--count N] [--minutes M] [--seed S] [--kind KIND]``.

Half of the inputs are drawn from the grammar, half are mutated real files. Each failure is
made smaller and kept in ``tests/fuzz/cases``, one for each place in the code.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fuzz.grammar import documents
from fuzz.harness import Harness, key_of, smaller
from fuzz.mutation import mutated, seeds

CASES = Path(__file__).with_name("cases")
BATCH = 100


def generated(count: int, seed: int) -> list[bytes]:
    """Documents of the grammar, the same for the same seed."""
    found: list[bytes] = []

    @seeded(seed)
    @settings(
        max_examples=count,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(documents())
    def collect(data: bytes) -> None:
        found.append(data)

    collect()
    return found


def inputs(seed: int, kind: str) -> Iterator[bytes]:
    """Inputs without end."""
    files = seeds()
    batch = seed * 1_000_000
    while True:
        if kind != "mutation":
            yield from generated(BATCH, batch)
        if kind != "grammar":
            yield from (mutated(files, batch + k) for k in range(BATCH))
        batch += BATCH


def main() -> int:
    """Run, print, and return how many kinds of failure there were."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", choices=("both", "grammar", "mutation"), default="both")
    parser.add_argument("--cases", type=Path, default=CASES, help="where failures are kept")
    options = parser.parse_args()
    options.cases.mkdir(parents=True, exist_ok=True)
    until = time.monotonic() + 60 * options.minutes
    ends: Counter[str] = Counter()
    failures: Counter[str] = Counter()
    warned: Counter[str] = Counter()
    slowest = largest = 0.0
    count = 0
    with Harness() as harness, Harness(inside=True) as quick:
        for data in inputs(options.seed, options.kind):
            if count >= options.count or time.monotonic() > until:
                break
            count += 1
            verdict = quick.judge(data)
            if verdict.failures:
                verdict = harness.judge(data)
            ends[verdict.end.partition(":")[0]] += 1
            warned.update(verdict.warnings)
            slowest, largest = max(slowest, verdict.seconds), max(largest, verdict.mb)
            for failure in verdict.failures:
                key = key_of(failure)
                failures[key] += 1
                if failures[key] == 1:
                    _keep(harness, options.cases, data, key, failure)
            if count % 500 == 0:
                print(f"… {count:,} {dict(ends)}, {len(failures)} kinds of failure", flush=True)
    print(f"{count:,} inputs: {dict(ends)}; slowest {slowest:.1f} s, largest {largest:.0f} MB")
    for title, counter in (("failures", failures), ("warnings", warned)):
        print(f"{title}: {sum(counter.values())} of {len(counter)} kinds")
        for key, times in counter.most_common():
            print(f"  {times:5} × {key}")
    return min(len(failures), 1)


def _keep(harness: Harness, folder: Path, data: bytes, key: str, failure: str) -> None:
    """Write a small drawing that fails in the same way."""
    tries = 5 if " s at " in key else 150
    small = smaller(
        data, lambda text: key in map(key_of, harness.judge(text).failures), tries=tries
    )
    slug = re.sub(r"[^a-z0-9]+", "-", key.lower()).strip("-")[:70]
    path = folder / f"{slug}-{hashlib.sha256(key.encode()).hexdigest()[:4]}.svg"
    path.write_bytes(small)
    print(f"FAILURE {failure}\n    {path} ({len(small)} bytes)", flush=True)


if __name__ == "__main__":
    sys.exit(main())
