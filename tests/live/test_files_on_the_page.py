"""Opening, saving and making files from the page; a card on the dial; the outline of a highlight."""

import numpy as np
import pytest

from lightsim.runs.preview import preview
from lightsim.scene.build import build
from lightsim.scene.file.read import load_scene
from lightsim.scene.obstruction import free_from_deg
from tests.live.conftest import SCENE

CARD = """
[[card]]
name = "white card"
angle_deg = 70.0
clock = 3.0
distance_mm = 90.0
width_mm = 60.0
height_mm = 60.0
"""


def dialog_of(page):
    return page.page.locator("#dialog")


def name_the_file(page, button, name, word):
    page.page.get_by_role("button", name=button).click()
    dialog_of(page).get_by_label("File, in").fill(name)
    dialog_of(page).get_by_role("button", name=word, exact=True).click()


def test_a_file_is_opened_and_undone(scene_file, start_server, open_page):
    text = scene_file.read_text(encoding="utf-8")
    other = scene_file.with_name("other.toml")
    other.write_text(text.replace("clock = 10.0", "clock = 4.0"), encoding="utf-8")
    page = open_page(start_server(scene_file))
    name_the_file(page, "Open …", "other.toml", "Open")
    page.until("lightsim.store.state.lights[0].clock === 4 && lightsim.store.state.file === 'other.toml'")
    assert page.get("lightsim.store.state.saved")
    page.rested("sketch")
    name_the_file(page, "Open …", "nowhere.toml", "Open")
    page.until("document.getElementById('message').textContent.includes('nowhere.toml')")
    assert page.get("lightsim.store.state.file") == "other.toml"


def test_saving_as_writes_another_file_and_asks_before_it_replaces_one(scene_file, start_server, open_page):
    page = open_page(start_server(scene_file))
    text = scene_file.read_text(encoding="utf-8")
    page.get("lightsim.store.move('flash', {angle: 45})")
    page.until("lightsim.store.state.lights[0].angle === 45")
    name_the_file(page, "Save as …", "mine", "Save")
    page.until("lightsim.store.state.saved && lightsim.store.state.file === 'mine.toml'")
    mine = scene_file.with_name("mine.toml")
    assert load_scene(mine).lights[0].angle_deg == 45.0
    assert scene_file.read_text(encoding="utf-8") == text
    name_the_file(page, "Save as …", scene_file.name, "Save")
    dialog_of(page).get_by_role("button", name="Leave it").click()
    assert scene_file.read_text(encoding="utf-8") == text
    name_the_file(page, "Save as …", scene_file.name, "Save")
    dialog_of(page).get_by_role("button", name="Replace it").click()
    page.until(f"lightsim.store.state.file === '{scene_file.name}'")
    assert load_scene(scene_file).lights[0].angle_deg == 45.0


def test_a_file_changed_outside_is_not_written_over_unasked(scene_file, start_server, open_page):
    page = open_page(start_server(scene_file))
    page.get("lightsim.store.move('flash', {angle: 45})")
    page.until("lightsim.store.state.lights[0].angle === 45")
    text = scene_file.read_text(encoding="utf-8").replace("angle_deg = 60.0", "angle_deg = 33.0")
    scene_file.write_text(text, encoding="utf-8")
    dialog_of(page).get_by_role("button", name="Keep what is here").wait_for(timeout=60_000)
    page.page.keyboard.press("Escape")  # no answer
    page.get("lightsim.link.send('save', {file: null, force: null})")
    dialog_of(page).get_by_role("button", name="Leave both").click(timeout=60_000)
    assert scene_file.read_text(encoding="utf-8") == text
    assert page.light()["angle"] == 45
    page.get("lightsim.link.send('save', {file: null, force: null})")
    dialog_of(page).get_by_role("button", name="Take in what the file holds").click(timeout=60_000)
    page.until("lightsim.store.state.lights[0].angle === 33")
    page.get("lightsim.link.send('undo')")
    page.until("lightsim.store.state.lights[0].angle === 45")


def test_the_plan_is_written_beside_the_scene(scene_file, start_server, open_page):
    page = open_page(start_server(scene_file))
    page.rested("normal")
    page.page.get_by_role("button", name="Plan of the set-up").click()
    page.until("document.getElementById('message').textContent.includes('small-plan.pdf')")
    assert scene_file.with_name("small-plan.pdf").read_bytes().startswith(b"%PDF")


def test_a_contact_sheet_is_made_of_what_was_kept(scene_file, start_server, open_page):
    scene_file.write_text(SCENE.replace("[camera]", "[camera]\nwidth_px = 240"), encoding="utf-8")
    page = open_page(start_server(scene_file))
    page.rested("normal")
    page.page.get_by_role("button", name="Keep this picture").click()
    page.get("lightsim.store.set({'exposure.iso': 400, 'drops.count': 3})")
    page.until("lightsim.store.state.table.drops.count === 3")
    page.rested("normal")
    page.page.keyboard.press("k")
    page.page.get_by_label("Name of kept picture 2").fill("brighter and drier")
    page.page.get_by_label("Name of kept picture 2").press("Enter")
    page.page.get_by_role("button", name="Contact sheet").click()
    page.until("document.getElementById('message').textContent.includes('small-sheet.png')")
    table = scene_file.with_name("small-sheet.csv").read_text(encoding="utf-8")
    assert "brighter and drier" in table


@pytest.fixture
def with_card(scene_file):
    scene_file.write_text(SCENE + CARD, encoding="utf-8")
    return scene_file


def test_a_card_is_dragged_on_the_dial(with_card, start_server, open_page):
    page = open_page(start_server(with_card))
    handle = page.page.get_by_role("slider", name="white card on the dial")
    handle.scroll_into_view_if_needed()
    box, dial = handle.locator(".mark").bounding_box(), page.page.locator("#dial").bounding_box()
    scale = dial["width"] / 236
    mouse = page.page.mouse
    mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    mouse.down()
    mouse.move(
        dial["x"] + scale * 118, dial["y"] + scale * (118 + 100 * 110 / 180), steps=5
    )  # 110 degrees, 6
    mouse.up()
    page.until("Math.abs(lightsim.store.state.cards[0].clock - 6) < 0.11")
    assert page.get("lightsim.store.state.cards[0].angle") == pytest.approx(110, abs=2)
    assert page.light()["clock"] == 10.0
    page.rested("sketch")


def test_the_highlight_of_the_picked_drop_is_outlined_where_it_is(scene_file, start_server, open_page):
    page = open_page(start_server(scene_file))
    page.rested("normal")
    page.until("lightsim.store.measures?.quality === 'normal'")
    number = page.get("lightsim.store.measures.drop.drop")
    assert page.page.locator("#over ellipse").count() == 0
    page.get(f"lightsim.link.send('pick', {{drop: {number}}})")
    page.until("document.querySelectorAll('#over ellipse.highlight').length === 1")
    page.until("lightsim.store.measures.revision === lightsim.store.state.revision")
    page.until("lightsim.store.measures.quality === 'normal'")
    centre = page.get(
        "['cx', 'cy'].map((one) => +document.querySelector('#over .highlight').getAttribute(one))"
    )
    width = page.get("lightsim.store.picture.width")
    photo = preview(load_scene(scene_file), width_px=width, quality="normal").photograph
    drops = photo.maps.drops
    glint = np.where(photo.maps.drop_index == number, photo.glint, 0.0)
    rows, columns = np.nonzero(glint)
    weights = glint[rows, columns]
    wanted = np.average(columns + 0.5, weights=weights), np.average(rows + 0.5, weights=weights)
    radius = drops.radius_px[number]
    assert np.hypot(centre[0] * width - wanted[0], centre[1] * width - wanted[1]) < 0.1 * radius


def test_the_dial_hatches_what_the_lens_hides(scene_file, start_server, open_page):
    page = open_page(start_server(scene_file))
    page.until("lightsim.dial.freeFrom.flash !== undefined")
    scene = load_scene(scene_file)
    free = free_from_deg(build(scene), scene.lights[0])
    assert free > 5.0
    assert page.get("lightsim.dial.freeFrom.flash") == free
    radius = page.get("document.querySelector('#dial > .hidden-cell').getBBox().width / 2")
    assert radius == pytest.approx(100 * free / 180, abs=0.1)


RING = """
[camera]
field_width_mm = 24.0

[drops]
count = 6

[[light]]
name = "ring"
shape = "ring"
kind = "flash"
width_mm = 120.0
inner_width_mm = 70.0
guide_number_m = 14.0
"""


def test_a_ring_stays_at_the_lens(scene_file, start_server, open_page):
    scene_file.write_text(RING, encoding="utf-8")
    page = open_page(start_server(scene_file), sky=True)
    page.page.get_by_role("slider", name="ring on the dial").focus()
    page.page.keyboard.press("ArrowDown")
    assert page.page.get_by_label("Angle", exact=True).count() == 0
    page.page.get_by_text("a ring, held at the lens’s front").wait_for()
    page.get("lightsim.link.send('move', {thing: 'ring', angle: 30})")
    page.until("document.getElementById('message').textContent.startsWith('angle: found')")
    assert page.light()["angle"] == 0
    page.rested("normal")  # and the sky that is not filled tells of no failure
    assert "failed" not in page.get("document.getElementById('message').className")
