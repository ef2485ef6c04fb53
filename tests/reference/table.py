"""All sets rendered by both, as a table kept in the repository: python -m tests.reference.table

Writes results.json and results.md beside this file after every set, so that a long run can be ended early.
With names of sets, only those are done again and the others keep what they had. Where a class is of few
pixels or lit by few of the path tracer's paths, `--times 8` gives it so many times as many, and ours half as
many times.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from time import perf_counter
from typing import Any

from tests.reference.cases import FILES, LONG, SHORT, Case
from tests.reference.compare import FULL, Effort, rendered_by_both
from tests.reference.kept_pictures import path_tracer

HERE = Path(__file__).parent
RESULTS = HERE / "results.json"
SHEET = HERE / "results.md"


def measured(case: Case, effort: Effort) -> dict[str, Any]:
    """What both say of each class, as plain numbers."""
    start = perf_counter()
    both = rendered_by_both(case.scene, case.lights, effort)
    found = {
        name: {
            "ratio": round(float(seen.ratio), 5),
            "error": round(float(seen.ratio_error), 5),
            "pixels": int(both.masks[name].sum()),
            "allowed": case.share(name),
            "chance": float(f"{float(seen.chance(case.share(name))):.3g}"),
        }
        for name, seen in both.by_class().items()
    }
    return {**_setting(effort), "seconds": round(perf_counter() - start, 1), "classes": found}


def _setting(effort: Effort) -> dict[str, Any]:
    from lightsim.tracer.kernels.jit import sources_digest

    return {
        "date": datetime.now(UTC).date().isoformat(),
        "versions": {
            "lightsim": f"{version('lightsim')} (kernels {sources_digest()})",
            "mitsuba": path_tracer(),
        },
        "width_px": effort.width_px,
        "ours": f"seeds 0 to {effort.our_seeds - 1}, {effort.our_samples} paths a pixel each",
        "theirs": f"seeds 0 to {effort.their_seeds - 1}, {effort.their_samples} paths a pixel each",
    }


def sheet(results: dict[str, Any]) -> str:
    """The results as a page."""
    lines = [
        "# The tracer against a path tracer",
        "",
        "Ours over theirs (Mitsuba 3), mean over the pixels of each class, with the standard error of the",
        "ratio. A class that differs by more than 1 % and three standard errors is in bold. Written by",
        "`python -m tests.reference.table`; `results.json` has the chances and numbers of pixels too.",
        "",
    ]
    for setting, names in _by_setting(results).items():
        lines += [setting, "", "| set | class | ours / theirs | +- |", "| --- | --- | ---: | ---: |"]
        for name in names:
            for kind, seen in results[name]["classes"].items():
                far = abs(seen["ratio"] - 1.0) > max(0.01, 3.0 * seen["error"])
                ratio = f"**{seen['ratio']:.4f}**" if far else f"{seen['ratio']:.4f}"
                lines.append(f"| {name} | {kind} | {ratio} | {seen['error']:.4f} |")
        lines.append("")
    return "\n".join(lines)


def _by_setting(results: dict[str, Any]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, one in results.items():
        versions = ", ".join(f"{what} {number}" for what, number in one["versions"].items())
        effort = f"{one['width_px']} pixels wide; ours: {one['ours']}; theirs: {one['theirs']}"
        setting = f"{one['date']}; {versions}; {effort}."
        found.setdefault(setting, []).append(name)
    return found


def main() -> None:
    """Render, write, print."""
    cases = SHORT | LONG | FILES
    wanted = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    wanted.add_argument("names", nargs="*", metavar="SET", help="sets to do; all when none is named")
    wanted.add_argument("--missing", action="store_true", help="only sets that have no result yet")
    wanted.add_argument(
        "--times", type=int, default=1, metavar="N", help="the path tracer's paths, times those of all sets"
    )
    asked = wanted.parse_args()
    effort = replace(
        FULL,
        our_samples=FULL.our_samples * max(1, asked.times // 2),
        their_samples=FULL.their_samples * asked.times,
    )
    results = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    for name in asked.names or cases:
        if asked.missing and name in results:
            continue
        results[name] = measured(cases[name], effort)
        ordered = {known: results[known] for known in cases if known in results}
        RESULTS.write_text(json.dumps(ordered, indent=1) + "\n")
        SHEET.write_text(sheet(ordered) + "\n")
        print(name, f"{results[name]['seconds']:.0f} s", flush=True)
        for kind, seen in results[name]["classes"].items():
            print(f"    {kind:24} {seen['ratio']:.4f} +- {seen['error']:.4f}", flush=True)


if __name__ == "__main__":
    main()
