"""How fast the live page is in a browser, as a table: python -m tests.benchmarks.live [SCENE] [MOVES].

Each time is given beside its ratio to the bare tracing time of the same picture. The machine should be quiet.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from statistics import median, quantiles

from tests.live.conftest import FLAGS, Page, chromium, start

SCENE = Path("scenes/dewy-petal.toml")
MOVES = 60

# One drag: each wish goes out when the picture of the one before is painted. Milliseconds from the move to
# the painted picture, and what the server took to trace and pack it.
DRAG = """
async (moves) => {
  const {store} = lightsim, times = [], traced = [];
  const painted = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  store.hand(true);
  for (let i = 0; i < moves; i += 1) {
    const before = store.picture.revision, began = performance.now();
    store.move(store.state.lights[0].name, {angle: 40 + (i * 7) % 61 + 0.3, clock: 9 + (i % 11) / 7});
    while (store.picture.revision === before) await new Promise((done) => setTimeout(done, 1));
    await painted();
    times.push(performance.now() - began);
    traced.push(store.picture.traced_ms);
  }
  const size = [store.picture.width, store.picture.height, store.picture.samples];
  const rested = performance.now();
  store.hand(false);
  while (store.picture.quality !== "normal") await new Promise((done) => setTimeout(done, 5));
  const rest = performance.now() - rested, full = [store.picture.width, store.picture.height];
  return {times, traced, size, rest, full, fullTraced: store.picture.traced_ms};
}
"""

EXPOSURE = """
async (presses) => {
  const {store, photo} = lightsim, times = [];
  for (let i = 0; i < presses; i += 1) {
    const began = performance.now();
    const old = photo.viewer.onPainted, painted = new Promise((done) => {
      photo.viewer.onPainted = (viewer) => {
        photo.viewer.onPainted = old;
        old(viewer);
        done(performance.now());
      };
    });
    store.set({"light[0].power": 2 ** (-4 + (i % 7) / 3)});
    times.push(await painted - began);
  }
  return times;
}
"""


def resident_mb(process: int) -> float:
    """Memory that a process holds."""
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024.0


def main(scene: Path, moves: int) -> None:
    """Print the table."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
        began = time.perf_counter()
        server = start(scene)
        page = Page(browser.new_page(viewport={"width": 1400, "height": 900}), server.address)
        page.until("window.lightsim?.store.picture?.layers?.length > 0")
        first = time.perf_counter() - began
        page.get("lightsim.link.send('sky', {on: false})")
        page.rested("normal")
        page.page.evaluate(DRAG, 10)
        before = resident_mb(server.process.pid)
        drag = page.page.evaluate(DRAG, moves)
        after = resident_mb(server.process.pid)
        exposure = page.page.evaluate(EXPOSURE, 21)
        browser.close()
        server.stop()
    rows = [
        ("first picture after the command", 1000 * first, None),
        ("power: to the painted picture, median", median(exposure), None),
        ("a dragged light, median", median(drag["times"]), median(drag["traced"])),
        ("a dragged light, 95th percentile", quantiles(drag["times"], n=20)[-1], median(drag["traced"])),
        ("full size and quality after rest", drag["rest"], drag["fullTraced"]),
    ]
    print(f"{scene}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {moves} moves")
    print("dragged at {} x {}, {} paths a pixel; full size {} x {}".format(*drag["size"], *drag["full"]))
    print(f"{'':42}{'ms':>8}{'tracing':>9}{'ratio':>7}")
    for words, taken, traced in rows:
        beside = "" if traced is None else f"{traced:9.0f}{taken / traced:7.2f}"
        print(f"{words:42}{taken:8.0f}{beside}")
    print(f"server's memory before and after the drag: {before:.0f} MB, {after:.0f} MB")


if __name__ == "__main__":
    arguments = sys.argv[1:]
    main(
        Path(arguments[0]) if arguments else SCENE,
        int(arguments[1]) if len(arguments) > 1 else MOVES,
    )
