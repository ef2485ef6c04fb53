"""Memory and time of one photograph by its size. Run it from the project's folder on a quiet machine:

    python tests/benchmarks/large.py                 # 0.6, 2.4, 6 and 24 megapixels; some minutes
    python tests/benchmarks/large.py 960 1920        # pictures of these widths

The set of `sweep.py`, 16 samples a pixel; each command `preview` in a fresh process, from its start to the
file on disk. The kernels are compiled beforehand and that is not counted.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.sweep import COMMAND, compile_kernels, in_kb, machine_words, wet_petal

WIDTHS_PX = (960, 1920, 3000, 6000)


@dataclass(frozen=True)
class Cost:
    """What one photograph took: time from start to file, processor time of all threads, peak memory."""

    width_px: int
    seconds: float
    processor_s: float
    memory_kb: int

    @property
    def pixels(self) -> int:
        """Of the picture."""
        return self.width_px * round(self.width_px * 2 / 3)


def cost(file: Path, width_px: int) -> Cost:
    """Photograph the set at that width."""
    picture = file.with_suffix(".png")
    picture.unlink(missing_ok=True)
    words = ["preview", str(file), "-o", str(picture), "--width", str(width_px), "--quiet"]
    start = perf_counter()
    process = subprocess.Popen([*COMMAND, *words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    spent = perf_counter() - start
    if process.returncode or not picture.exists():
        raise SystemExit(f"the preview ended with code {process.returncode} and wrote no picture")
    return Cost(width_px, spent, used.ru_utime + used.ru_stime, in_kb(used.ru_maxrss))


def main(widths_px: list[int]) -> None:
    """Photograph at every width and print a line for each."""
    from lightsim.scene.file.write import save_scene

    os.environ.setdefault("PYTHONPATH", str(Path(__file__).resolve().parents[2]))
    compile_kernels()
    print("width px | megapixels | seconds | us a pixel | processor us a pixel | peak MiB")
    with tempfile.TemporaryDirectory() as folder:
        file = save_scene(wet_petal(), Path(folder) / "wet-petal.toml")
        for width_px in widths_px:
            one = cost(file, width_px)
            print(
                f"{one.width_px} | {one.pixels / 1e6:.1f} | {one.seconds:.1f} | "
                f"{1e6 * one.seconds / one.pixels:.2f} | {1e6 * one.processor_s / one.pixels:.2f} | "
                f"{one.memory_kb / 1024:.0f}",
                flush=True,
            )
    print(machine_words())


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or list(WIDTHS_PX))
