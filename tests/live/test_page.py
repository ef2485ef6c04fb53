"""The live page in a real browser, by mouse, by keyboard and by touch."""

import numpy as np
import pytest

from lightsim.runs.preview import preview
from lightsim.scene.file.read import load_scene

PIXELS = """(() => {
  const {painter, picture} = lightsim.photo.viewer;
  lightsim.photo.viewer.paintNow();
  return [picture.width, picture.height, [...painter.pixels()]];
})()"""


@pytest.fixture
def page(server, open_page):
    return open_page(server)


def handle_box(page, name="flash on the dial"):
    return page.page.get_by_role("slider", name=name).bounding_box()


def middle(box):
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def dial_place(page, angle, clock):
    """Where a place on the dial stands on the screen."""
    rectangle = "document.getElementById('dial').getBoundingClientRect()"
    box = page.get(f"(({{left, top, width}}) => [left, top, width])({rectangle})")
    scale, turn = box[2] / 236, np.radians(30 * clock)
    radius = 100 * angle / 180
    return box[0] + scale * (118 + radius * np.sin(turn)), box[1] + scale * (118 - radius * np.cos(turn))


def test_the_lamp_is_dragged_by_mouse_and_undone_in_one_step(page):
    before = page.light()
    page.page.get_by_role("slider", name="flash on the dial").scroll_into_view_if_needed()
    mouse = page.page.mouse
    mouse.move(*dial_place(page, before["angle"], before["clock"]))
    mouse.down()
    for clock in (8.0, 6.0, 4.0):
        mouse.move(*dial_place(page, 90, clock), steps=3)
    mouse.up()
    page.until("Math.abs(lightsim.store.state.lights[0].clock - 4) < 0.11")
    assert page.light()["angle"] == pytest.approx(90, abs=2)
    page.rested("normal")
    page.page.get_by_role("button", name="Undo").click()
    page.until(f"Math.abs(lightsim.store.state.lights[0].clock - {before['clock']}) < 1e-6")
    assert page.light()["angle"] == before["angle"]


def test_the_lamp_is_moved_by_arrow_keys(page):
    before = page.light()
    page.page.get_by_role("slider", name="flash on the dial").focus()
    page.page.keyboard.press("ArrowDown")
    page.until(f"lightsim.store.state.lights[0].angle === {before['angle'] + 5}")
    page.page.keyboard.press("ArrowRight")
    page.until(f"lightsim.store.state.lights[0].clock === {before['clock'] + 0.25}")
    page.page.keyboard.press("Shift+ArrowUp")
    page.until(f"lightsim.store.state.lights[0].angle === {before['angle'] + 4}")
    words = page.page.get_by_role("slider", name="flash on the dial").get_attribute("aria-valuetext")
    assert words == "64 degrees, 10:15, side light"
    while page.get("lightsim.store.state.can_undo"):  # one step or several, as quick as the keys were
        revision = page.get("lightsim.store.state.revision")
        page.page.keyboard.press("Control+z")
        page.until(f"lightsim.store.state.revision > {revision}")
    assert page.light()["clock"] == before["clock"]


def test_places_and_texture_read_as_in_tables_and_sheets(page):
    page.rested("normal")
    page.until("lightsim.store.measures?.frame?.texture_fine_rms > 0")
    assert "flash at 60°, 10 o’clock: three-quarter light" in page.get("document.body.innerText")
    rms = page.get("lightsim.store.measures.frame.texture_fine_rms")
    numbers = page.page.locator("#numbers").inner_text()
    assert f"{float(f'{100 * rms:.2g}'):g} % RMS" in numbers


def test_the_lamp_is_dragged_by_touch(server, open_page):
    page = open_page(server, has_touch=True)
    before = page.light()
    page.page.get_by_role("slider", name="flash on the dial").scroll_into_view_if_needed()
    devtools = page.page.context.new_cdp_session(page.page)

    def touch(kind, *place):
        points = [{"x": float(place[0]), "y": float(place[1])}] if place else []
        devtools.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", *dial_place(page, before["angle"], before["clock"]))
    touch("touchMove", *dial_place(page, 70, 11))
    touch("touchMove", *dial_place(page, 70, 1))
    touch("touchEnd")
    page.until("Math.abs(lightsim.store.state.lights[0].clock - 1) < 0.11")
    page.page.get_by_role("button", name="Undo").tap()
    page.until(f"Math.abs(lightsim.store.state.lights[0].clock - {before['clock']}) < 1e-6")


def test_exposure_needs_no_word_from_the_server(page):
    page.rested("normal")
    before = np.mean(page.get(PIXELS)[2])
    page.get("lightsim.link.socket.send = () => {}")
    page.page.get_by_label("Flash power", exact=True).focus()
    for _ in range(3):
        page.page.keyboard.press("ArrowRight")
    page.page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    assert np.mean(page.get(PIXELS)[2]) > before + 3


def test_the_saved_scene_gives_the_same_photograph_by_preview(scene_file, start_server, open_page):
    server = start_server(scene_file)
    page = open_page(server)
    page.get("lightsim.store.move('flash', {angle: 40, clock: 1})")
    page.get("lightsim.store.set({'exposure.iso': 200, 'exposure.shutter_s': 1 / 64})")
    page.until("lightsim.store.state.table.exposure.iso === 200 && !lightsim.store.state.saved")
    page.page.keyboard.press("Control+s")
    page.until("lightsim.store.state.saved")
    page.rested("normal")
    text = scene_file.read_text(encoding="utf-8")
    assert 'shutter_s = "1/60"' in text
    assert "angle_deg = 40.0    # off the lens axis" in text
    width, height, pixels = page.get(PIXELS)
    shown = np.array(pixels, np.int16).reshape(height, width, 4)[..., :3]
    wanted = preview(load_scene(scene_file), width_px=width, quality="normal").frame.image.astype(np.int16)
    assert np.abs(shown - wanted).max() <= 1


def test_a_file_changed_outside_is_taken_in_after_a_question(scene_file, start_server, open_page):
    page = open_page(start_server(scene_file))
    text = scene_file.read_text(encoding="utf-8")
    scene_file.write_text(text.replace("angle_deg = 60.0", "angle_deg = 33.0"), encoding="utf-8")
    page.page.get_by_role("button", name="Take it in").click(timeout=60_000)
    page.until("lightsim.store.state.lights[0].angle === 33 && lightsim.store.state.saved")


def test_settings_hold_the_exposure(page):
    page.rested("normal")
    page.page.get_by_label("Hold by").select_option("iso")
    before = page.get("lightsim.store.state.settings")
    page.get("lightsim.link.send('set', {values: {'exposure.shutter_s': 1 / 32}, hold: 'iso'})")
    page.until("lightsim.store.state.table.exposure.shutter_s === 1 / 32")
    after = page.get("lightsim.store.state.settings")
    # The flash's part does not depend on the shutter, so the speed that holds it stays.
    assert after["iso"] == pytest.approx(before["iso"])
    page.get("lightsim.link.send('set', {values: {'camera.f_number': 16}, hold: 'power'})")
    page.until("lightsim.store.state.table.camera.f_number === 16")
    assert page.light()["power"] == pytest.approx(1 / 16 * 2, rel=1e-3)
    page.get("lightsim.link.send('undo'); lightsim.link.send('undo')")
    page.until("lightsim.store.state.table.camera.f_number === 11")


def test_drops_are_put_moved_and_taken_away_by_clicks(page):
    page.rested("normal")
    before = len(page.table()["drops"].get("placed") or [])
    canvas = page.page.locator("#picture")
    box = canvas.bounding_box()
    drops = page.get("lightsim.store.measures.drops")
    free = free_place(drops, box["height"] / box["width"])
    at = {"x": free[0] * box["width"], "y": free[1] * box["height"]}
    page.page.get_by_label("Put a drop").check()
    canvas.click(position=at)
    page.until(f"(lightsim.store.state.table.drops.placed ?? []).length === {before + 1}")
    page.rested("normal")
    page.until("lightsim.store.measures.revision === lightsim.store.state.revision")
    put = page.get("lightsim.store.measures.drops[0]")
    assert put[0] == pytest.approx(free[0], abs=0.02)
    assert put[1] * box["width"] / box["height"] == pytest.approx(free[1], abs=0.03)
    page.page.get_by_label("Take it away").check()
    canvas.click(position=at)
    page.until(f"(lightsim.store.state.table.drops.placed ?? []).length === {before}")
    page.page.get_by_label("Pick a drop").check()


def free_place(drops, ratio):
    """A place of the picture (shares) far from every drop."""
    grid = [(x, y) for x in np.linspace(0.25, 0.75, 11) for y in np.linspace(0.3, 0.7, 9)]
    gaps = [min((np.hypot(x - d[0], y * ratio - d[1]) - d[2] for d in drops), default=1.0) for x, y in grid]
    return grid[int(np.argmax(gaps))]


def test_a_click_focuses(page):
    page.rested("normal")
    page.page.get_by_label("Focus", exact=True).check()
    canvas = page.page.locator("#picture")
    canvas.focus()
    page.page.keyboard.press("ArrowRight")
    page.page.keyboard.press("Enter")
    page.until(
        "lightsim.store.state.can_undo && JSON.stringify(lightsim.store.state.table.camera.focus)"
        " !== JSON.stringify({on: 'petal', x_mm: 0, y_mm: 0, offset_mm: 0})"
    )
    page.get("lightsim.link.send('undo')")
    page.page.get_by_label("Pick a drop").check()


def test_pictures_are_kept_compared_and_gone_back_to(page):
    page.rested("normal")
    page.page.get_by_role("button", name="Keep this picture").click()
    page.page.get_by_label("Angle, °, number", exact=True).fill("100")
    page.page.get_by_label("Angle, °, number", exact=True).press("Enter")
    page.until("lightsim.store.state.lights[0].angle === 100")
    page.page.get_by_role("button", name="Compare with 60°, 10 o’clock").click()
    assert page.page.locator("#other").is_visible()
    page.page.locator("#wipe").press("Home")
    assert "100%" in page.get("document.getElementById('other').style.clipPath")
    page.page.get_by_role("button", name="End comparing").click()
    page.page.get_by_role("button", name="Go back to 60°, 10 o’clock").click()
    page.until("lightsim.store.state.lights[0].angle === 60")


def test_zoom_and_pan(page):
    page.rested("normal")
    for _ in range(4):
        page.page.get_by_role("button", name="Larger").click()
    assert page.page.locator("#zoom-shown").text_content() == "400 %"
    box = page.page.locator("#window").bounding_box()
    page.page.mouse.move(*middle(box))
    page.page.mouse.down()
    page.page.mouse.move(middle(box)[0] - 90, middle(box)[1] - 40, steps=4)
    page.page.mouse.up()
    assert page.get("lightsim.photo.pan[0]") < -90
    page.page.get_by_role("button", name="Fit").click()


@pytest.mark.parametrize("ground", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 820, 1400])
def test_the_page_is_accessible_and_fits_its_width(server, open_page, browser, width, ground):
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(viewport={"width": width, "height": 800}, bypass_csp=True)
    page = open_page(server, context=context)
    page.until("lightsim.store.measures !== null")
    if ground == "dark":
        page.page.get_by_role("button", name="Dark ground").click()
    page.get("lightsim.kept.keep()")
    found = Axe().run(page.page)
    assert found.violations_count == 0, found.generate_report()
    assert page.get("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [360, 1400])
def test_the_start_is_accessible_and_fits_its_width(start_server, browser, width, tmp_path, monkeypatch):
    from axe_playwright_python.sync_playwright import Axe

    monkeypatch.chdir(tmp_path)
    server = start_server(None)
    context = browser.new_context(viewport={"width": width, "height": 800}, bypass_csp=True)
    page = context.new_page()
    page.goto(server.address)
    page.get_by_role("button", name="Put it on the table").wait_for()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.getElementById('dialog').scrollWidth") <= width
    context.close()


def test_the_sky_fills_in_and_a_known_place_is_there_at_once(server, open_page):
    page = open_page(server, sky=True)
    page.rested("normal")
    page.until("lightsim.store.sky.places.filter(([, , stands]) => stands).length >= 3")
    angle, clock = page.get("lightsim.store.sky.places.filter(([, , stands]) => stands).at(-1)")[:2]
    page.get(f"lightsim.store.hand(true); lightsim.store.move('flash', {{angle: {angle}, clock: {clock}}})")
    page.until(f"lightsim.store.state.lights[0].angle === {angle}")
    page.rested("normal")
    page.get("lightsim.store.hand(false); lightsim.link.send('undo'); lightsim.link.send('sky', {on: false})")
    page.until("lightsim.store.state.lights[0].angle === 60")
