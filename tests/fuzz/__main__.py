"""Run the long fuzz: `python -m tests.fuzz --count 10000 [--seed 1] [--trace 50]`."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

from tests.fuzz.trial import fuzz


def main() -> int:
    """Fuzz, print what was found; exit code 1 where there is something."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("--count", type=int, default=10_000, help="mutated scenes")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--trace", type=int, default=0, help="every so many make a tiny picture; 0 for none")
    wanted = parser.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        faults, ends = fuzz(
            wanted.count, wanted.seed, Path(folder), wanted.trace, partial(print, end="\n\n", flush=True)
        )
    print(f"{wanted.count} trials of seed {wanted.seed} in {time.monotonic() - began:.0f} s: {dict(ends)}; "
          f"{len(faults)} faults")  # fmt: skip
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
