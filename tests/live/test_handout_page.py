"""A handout in a real browser: exposed as Python does, without a network, readable without its script."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import numpy as np
import pytest

from lightsim.photograph.tone import to_srgb8
from lightsim.report.handout.handout_page import handout_html, small_chart
from lightsim.report.handout.handout_records import HandoutPage
from lightsim.runs.handout.handout import write_handout
from lightsim.runs.photographing import photograph
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.tracer import View
from tests.live.conftest import PATIENCE_S, SCENE

WIDTH = 120


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The small set's handout, and its scene."""
    folder = tmp_path_factory.mktemp("handout")
    scene = folder / "small.toml"
    scene.write_text(SCENE, encoding="utf-8")
    path = write_handout(
        [scene], folder / "small.html", values={"angle": "40,75"}, quality="draft", width_px=WIDTH,
        with_plan=False,
    )  # fmt: skip
    return path, load_scene(scene)


@pytest.fixture
def page(browser, made):
    """The page, opened as a file."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    opened = context.new_page()
    opened.faults = []
    opened.on("pageerror", lambda error: opened.faults.append(str(error)))
    opened.on("request", lambda request: opened.faults.append(request.url))
    opened.goto(made[0].as_uri())
    until(opened, "globalThis.handout?.views[0].viewer.exposed != null")
    opened.faults = [each for each in opened.faults if not each.startswith(("file:", "data:"))]
    yield opened
    context.close()


def until(page, expression):
    """Wait until an expression is true; the driver's own wait needs an eval that the page forbids."""
    end = time.monotonic() + PATIENCE_S
    while not page.evaluate(expression):
        assert time.monotonic() < end, f"never came: {expression}"
        time.sleep(0.02)


def shown(page):
    """Eight-bit pixels of the page's photograph."""
    page.evaluate("handout.views[0].viewer.paintNow()")
    size = page.evaluate("[handout.views[0].set.height, handout.views[0].set.width]")
    pixels = page.evaluate("[...handout.views[0].viewer.painter.pixels()]")
    return np.array(pixels, dtype=int).reshape(*size, 4)[..., :3]


def exposed(scene, angle):
    """Eight-bit pixels by Python, of the same layers."""
    moved = replace(scene, lights=(scene.lights[0].moved(angle_deg=angle),))
    layers = View(moved, width_px=WIDTH, samples=4).trace()
    return to_srgb8(photograph(layers, moved, build(moved))).astype(int)


def drag(page, label, steps):
    """Move a slider by so many steps with the keyboard."""
    slider = page.get_by_label(label, exact=True)
    slider.focus()
    for _ in range(abs(steps)):
        slider.press("ArrowRight" if steps > 0 else "ArrowLeft")


def close(found, wanted):
    """Nearly all pixels within two steps: luminance is packed to a hundredth, colour in squares of 2 x 2."""
    difference = np.abs(found - wanted).max(axis=-1)
    assert np.quantile(difference, 0.9) <= 3
    assert difference.mean() < 2.0


def test_the_photograph_follows_the_angle_and_the_dials(page, made):
    _, scene = made
    wanted = {angle: exposed(scene, angle) for angle in (40.0, 75.0)}
    close(shown(page), wanted[75.0])  # the nearest to the 60 degrees of the scene
    drag(page, "Angle", -1)
    until(page, "handout.views[0].place.querySelector('.caption').textContent.includes('40')")
    close(shown(page), wanted[40.0])
    drag(page, "Flash power", 3)  # a whole stop
    brighter = replace(scene, lights=(replace(scene.lights[0], power=2 * scene.lights[0].power),))
    close(shown(page), exposed(brighter, 40.0))
    page.get_by_role("button", name="As photographed").click()
    close(shown(page), wanted[40.0])
    assert page.faults == []


def test_the_numbers_follow_the_dials_or_say_that_they_do_not(page, made):
    _, scene = made
    terms = "[...document.querySelectorAll('.measured dt')].map((term) => term.textContent)"

    def told(term):
        index = page.evaluate(terms).index(term)
        return page.locator(".measured dd").nth(index).inner_text()

    before = told("petal’s level")
    drag(page, "ISO", 6)
    drag(page, "Flash power", 3)
    drag(page, "Room light", -3)
    until(page, f"{terms}.includes('petal contrast, as photographed')")
    light = replace(scene.lights[0], power=2 * scene.lights[0].power).moved(angle_deg=75.0)
    ambient = replace(scene.ambient, illuminance_lx=0.5 * scene.ambient.illuminance_lx)
    exposure = replace(scene.exposure, iso=4 * scene.exposure.iso)
    changed = replace(scene, lights=(light,), ambient=ambient, exposure=exposure)
    notes = photograph(View(changed, width_px=WIDTH, samples=4).trace(), changed, build(changed)).notes
    assert told("petal’s level") == f"{notes['petal_stops_above_mid_tone']:+.1f} stops".replace("-", "−")
    assert told("room light") == f"{notes['room_light_stops_below_flash']:.1f} stops below the flash"
    page.get_by_role("button", name="As photographed").click()
    until(page, f"{terms}.includes('petal contrast')")
    assert told("petal’s level") == before


def test_charts_have_round_numbers(made):
    words = made[0].read_text(encoding="utf-8")
    assert "along:" not in words
    drawn = small_chart([0.6, 4.19, None], ["15°", "75°", "135°"], "Contrast", "stops", "angle")
    assert re.findall(r'text-anchor="end">([^<]*)<', drawn) == ["0", "1", "2", "3", "4", "5"]
    alike = small_chart([1.0, 1.0], ["15°", "75°"], "Contrast", "stops", "angle")
    assert re.findall(r'text-anchor="end">([^<]*)<', alike)[0] == "1"
    assert "Contrast (stops) by angle" in drawn


def test_it_fits_a_phone_and_axe_finds_nothing(page):
    from axe_playwright_python.sync_playwright import Axe

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_without_its_script_it_reads(browser, made):
    context = browser.new_context(java_script_enabled=False)
    opened = context.new_page()
    opened.goto(made[0].as_uri())
    assert opened.locator(".plates img").count() == 2
    assert "petal contrast" in opened.locator(".plates").inner_text()
    assert not opened.locator(".viewer").is_visible()
    context.close()


def test_a_dark_page_is_printed_as_a_light_one(browser, tmp_path):
    inks = {}
    for ground in ("light", "dark"):
        path = tmp_path / f"{ground}.html"
        path.write_text(handout_html(HandoutPage("Light", ()), ground=ground), encoding="utf-8")
        context = browser.new_context()
        opened = context.new_page()
        opened.goto(path.as_uri())
        for media in ("screen", "print"):
            opened.emulate_media(media=media)
            inks[ground, media] = opened.evaluate(
                "getComputedStyle(document.documentElement).getPropertyValue('--ink')"
            )
        context.close()
    assert inks["dark", "print"] == inks["light", "print"] == inks["light", "screen"]
    assert inks["dark", "screen"] != inks["light", "screen"]
