"""How fast the live page is in a browser, as a table, and whether its memory stays flat.

python -m tests.benchmarks.live [SCENE] [--moves N] [--minutes N]

Each time is given beside its ratio to the bare tracing time of the same picture. The machine should be quiet;
its load is printed, and the processor time that the server used, which other programs change little.
"""

from __future__ import annotations

import argparse
import os
import time
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import numpy as np

from tests.live.conftest import FLAGS, Page, Server, chromium, start

STEADY_S = 10
SCENE = Path("scenes/dewy-petal.toml")

# One drag: each wish goes out when the picture of the one before is painted. Milliseconds from the move to
# the animation frame that has painted the picture, and what the server took to trace and pack it.
DRAG = """
async (moves) => {
  const {store, photo} = lightsim, times = [], traced = [], {viewer} = photo, old = viewer.onPainted;
  const painted = (before) => new Promise((done) => {
    viewer.onPainted = (one) => {
      old(one);
      if (store.picture.revision > before) done(performance.now());
    };
  });
  store.hand(true);
  for (let i = 0; i < moves; i += 1) {
    await new Promise(requestAnimationFrame);
    const began = performance.now(), next = painted(store.picture.revision);
    store.move(store.state.lights[0].name, {angle: 40 + (i * 7) % 61 + 0.3, clock: 9 + (i % 11) / 7});
    times.push(await next - began);
    traced.push(store.picture.traced_ms);
  }
  viewer.onPainted = old;
  const size = [store.picture.width, store.picture.height, store.picture.samples];
  const rested = performance.now();
  store.hand(false);
  while (store.picture.quality !== "normal") await new Promise((done) => setTimeout(done, 5));
  const rest = performance.now() - rested, full = [store.picture.width, store.picture.height];
  return {times, traced, size, rest, full, fullTraced: store.picture.traced_ms};
}
"""

# A steady drag: a move in each animation frame. Milliseconds from the move that a picture shows to its
# painting.
STEADY = """
async (lasts) => {
  const {store, photo} = lightsim, times = [], traced = [], moved = [], told = new Map(), {viewer} = photo;
  const old = viewer.onPainted, began = performance.now();
  let shown = store.picture.revision, pictures = 0;
  const note = () => {
    const {revision, lights: [{angle}]} = store.state;
    told.set(revision, moved.find((one) => Math.abs(one.angle - angle) < 1e-5)?.at);
  };
  store.addEventListener("state", note);
  viewer.onPainted = (one) => {
    old(one);
    const {revision, traced_ms} = store.picture, at = told.get(revision);
    if (revision <= shown) return;
    shown = revision;
    pictures += 1;
    if (at === undefined) return;
    times.push(performance.now() - at);
    traced.push(traced_ms);
  };
  store.hand(true);
  for (let i = 0; performance.now() - began < lasts; i += 1) {
    await new Promise(requestAnimationFrame);
    const angle = 70 + 30 * Math.sin(i / 37);
    moved.push({angle, at: performance.now()});
    store.move(store.state.lights[0].name, {angle, clock: 10 + 1.5 * Math.sin(i / 53)});
  }
  viewer.onPainted = old;
  store.removeEventListener("state", note);
  store.hand(false);
  return {times, traced, pictures, frames: moved.length};
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


def processor_s(server: Server) -> float:
    """Processor time that a server has used."""
    fields = Path(f"/proc/{server.process.pid}/stat").read_text().rpartition(") ")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def resident_mb(server: Server) -> float:
    """Memory that a server holds."""
    lines = Path(f"/proc/{server.process.pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024.0


def table(scene: Path, moves: int, driver: Any) -> None:
    """Print how long each thing takes."""
    browser = driver.chromium.launch(executable_path=chromium(), args=FLAGS)
    began = time.perf_counter()
    server = start(scene)
    page = Page(browser.new_page(viewport={"width": 1400, "height": 900}), server.address)
    page.until("window.lightsim?.store.picture?.layers?.length > 0")
    first, first_used = time.perf_counter() - began, processor_s(server)
    page.get("lightsim.link.send('sky', {on: false})")
    page.rested("normal")
    page.page.evaluate(DRAG, 10)
    used, before = processor_s(server), resident_mb(server)
    drag = page.page.evaluate(DRAG, moves)
    used, after = processor_s(server) - used, resident_mb(server)
    steady = page.page.evaluate(STEADY, 1000 * STEADY_S)
    exposure = page.page.evaluate(EXPOSURE, 21)
    browser.close()
    server.stop()
    traced = median(drag["traced"])
    rows = [
        ("first picture after the command", 1000 * first, None),
        ("power: to the painted picture, median", median(exposure), None),
        ("a dragged light, median", median(drag["times"]), traced),
        ("a dragged light, 95th percentile", last_twentieth(drag["times"]), last_twentieth(drag["traced"])),
        ("a steady drag, pointer to picture, median", median(steady["times"]), median(steady["traced"])),
        ("full size and quality after rest", drag["rest"], drag["fullTraced"]),
    ]
    beside = [taken - traced for taken, traced in zip(drag["times"], drag["traced"], strict=True)]
    print(f"{scene}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {moves} moves")
    print("dragged at {} x {}, {} paths a pixel; full size {} x {}".format(*drag["size"], *drag["full"]))
    print(f"{'':42}{'ms':>8}{'tracing':>9}{'ratio':>7}")
    for words, taken, bare in rows:
        print(f"{words:42}{taken:8.0f}" + ("" if bare is None else f"{bare:9.0f}{taken / bare:7.2f}"))
    print(
        f"beside tracing: {median(beside):.0f} ms median, {last_twentieth(beside):.0f} at the 95th percentile"
    )
    rates = [steady["pictures"] / STEADY_S, steady["frames"] / STEADY_S]
    print("a steady drag: {:.1f} pictures a second, {:.0f} moves a second".format(*rates))
    print(
        f"the server's processor time: first picture {first_used:.1f} s, a move {1000 * used / moves:.0f} ms"
    )
    print(f"server's memory before and after the drag: {before:.0f} MB, {after:.0f} MB")


def last_twentieth(times: list[float]) -> float:
    """The 95th percentile."""
    return quantiles(times, n=20)[-1]


def memory(scene: Path, minutes: float, driver: Any) -> None:
    """Drag for so long, the hand resting for a few seconds each minute, and print what memory does."""
    browser = driver.chromium.launch(
        executable_path=chromium(), args=[*FLAGS, "--enable-precise-memory-info"]
    )
    server = start(scene)
    page = Page(browser.new_page(viewport={"width": 1400, "height": 900}), server.address)
    page.until("window.lightsim?.store.picture?.layers?.length > 0")
    page.get("lightsim.link.send('sky', {on: false})")
    page.rested("normal")
    began, pictures, rows = time.monotonic(), 0, []
    print(f"{'minute':>8}{'pictures':>10}{'server, MB':>12}{'page, MB':>10}", flush=True)
    while (passed := (time.monotonic() - began) / 60.0) < minutes:
        heap = page.get("performance.memory.usedJSHeapSize") / 2**20
        rows.append((passed, pictures, resident_mb(server), heap))
        print("{:8.1f}{:10}{:12.1f}{:10.1f}".format(*rows[-1]), flush=True)
        pictures += page.page.evaluate(STEADY, 50_000)["pictures"]
        page.rested("normal")
    browser.close()
    server.stop()
    later = np.array(rows[len(rows) // 3 :])
    for name, column in (("server", 2), ("page", 3)):
        slope = 60.0 * np.polyfit(later[:, 0], later[:, column], 1)[0] if len(later) > 2 else float("nan")
        print(f"{name}: {slope:+.1f} MB an hour over the last two thirds, load {os.getloadavg()[0]:.1f}")


def main() -> None:
    """The table, or with --minutes the memory."""
    from playwright.sync_api import sync_playwright

    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("scene", nargs="?", type=Path, default=SCENE)
    options.add_argument("--moves", type=int, default=60, help="of the light, for the table")
    options.add_argument("--minutes", type=float, help="drag for so long and print the memory instead")
    given = options.parse_args()
    with sync_playwright() as driver:
        if given.minutes is None:
            table(given.scene, given.moves, driver)
        else:
            memory(given.scene, given.minutes, driver)


if __name__ == "__main__":
    main()
