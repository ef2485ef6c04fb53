"""The same things done by mouse, by keyboard and by touch."""

import pytest

HANDS = ("mouse", "keyboard", "touch")


class Hand:
    """A person at the page with one means alone."""

    def __init__(self, page, kind):
        self.page, self.browser_page, self.kind = page, page.page, kind
        self._devtools = page.page.context.new_cdp_session(page.page) if kind == "touch" else None

    def press(self, what, key="Enter"):
        """Press a button, tick a box, choose one of several."""
        what.scroll_into_view_if_needed()
        if self.kind == "mouse":
            what.click()
        elif self.kind == "touch":
            what.tap()
        else:
            what.focus()
            self.browser_page.keyboard.press(key)

    def drag(self, what, to, keys):
        """Drag the middle of something to a place on the screen, or press keys while it has the focus."""
        if self.kind == "keyboard":
            what.focus()
            for key in keys:
                self.browser_page.keyboard.press(key)
            return
        box = what.bounding_box()
        start = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        between = (start[0] + to[0]) / 2, (start[1] + to[1]) / 2
        if self.kind == "mouse":
            mouse = self.browser_page.mouse
            mouse.move(*start)
            mouse.down()
            mouse.move(*between, steps=3)
            mouse.move(*to, steps=3)
            mouse.up()
            return
        self._touch("touchStart", start)
        self._touch("touchMove", between)
        self._touch("touchMove", to)
        self._touch("touchEnd")

    def _touch(self, kind, place=None):
        points = [] if place is None else [{"x": float(place[0]), "y": float(place[1])}]
        self._devtools.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def slide(self, what, share, key):
        """Bring a slider to a share of its width, or one step further by a key."""
        what.scroll_into_view_if_needed()
        box = what.bounding_box()
        at = {"x": share * box["width"], "y": box["height"] / 2}
        if not self.point(what, at):
            self.browser_page.keyboard.press(key)

    def point(self, what, at):
        """Click or tap a place of something; False for the keyboard, which is turned to it instead."""
        if self.kind == "mouse":
            what.click(position=at)
        elif self.kind == "touch":
            what.tap(position=at)
        else:
            what.focus()
        return self.kind in ("mouse", "touch")


@pytest.fixture(params=HANDS)
def hand(request, server, open_page):
    page = open_page(server, has_touch=request.param == "touch")
    page.rested("normal")
    page.until("lightsim.store.measures?.revision === lightsim.store.state.revision")
    yield Hand(page, request.param)
    while page.get("lightsim.store.state.can_undo"):
        revision = page.get("lightsim.store.state.revision")
        page.get("lightsim.link.send('undo')")
        page.until(f"lightsim.store.state.revision > {revision}")


def test_the_light_is_moved_on_the_dial(hand):
    page = hand.page
    handle = page.page.get_by_role("slider", name="flash on the dial")
    handle.scroll_into_view_if_needed()
    box = page.page.locator("#dial").bounding_box()
    scale = box["width"] / 236
    place = box["x"] + scale * (118 + 50), box["y"] + scale * 118  # 90 degrees, 3 o'clock
    hand.drag(handle, place, ["ArrowDown"] * 6 + ["ArrowRight"] * 20)
    page.until("lightsim.store.state.lights[0].angle === 90 && lightsim.store.state.lights[0].clock === 3")
    page.rested("normal")


def test_the_distance_is_dragged_in_the_set_from_above(hand):
    page = hand.page
    handle = page.page.get_by_role("slider", name="distance of flash, from above")
    handle.scroll_into_view_if_needed()
    box, middle = handle.bounding_box(), page.page.locator("#above").bounding_box()
    here = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    subject = middle["x"] + middle["width"] / 2, middle["y"] + middle["height"] / 2
    halfway = (here[0] + subject[0]) / 2, (here[1] + subject[1]) / 2
    hand.drag(handle, halfway, ["ArrowDown"] * 11)
    page.until("Math.abs(lightsim.store.state.lights[0].distance - 110) < 12")


def test_a_setting_is_changed(hand):
    page = hand.page
    hand.slide(page.page.get_by_label("ISO", exact=True), 0.75, "End")
    page.until("lightsim.store.state.table.exposure.iso >= 1600")


def test_a_drop_is_picked_and_its_highlight_told_of(hand):
    page = hand.page
    canvas = page.page.locator("#picture")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    drops = page.get("lightsim.store.measures.drops")
    ratio = box["height"] / box["width"]
    inside = [
        number for number, (x, y, r, _) in enumerate(drops) if 0.1 < x < 0.9 and 0.1 < y / ratio < 0.9 and r
    ]
    number = max(inside, key=lambda each: drops[each][2])
    x, y = drops[number][0], drops[number][1] / ratio
    at = {"x": x * box["width"], "y": y * box["height"]}
    if not hand.point(canvas, at):
        for key, by in (("Right", x - 0.5), ("Left", 0.5 - x), ("Down", y - 0.5), ("Up", 0.5 - y)):
            for _ in range(max(0, round(by / 0.005))):
                page.page.keyboard.press(f"Shift+Arrow{key}")
        page.page.keyboard.press("Enter")
    page.until(f"lightsim.store.state.drop === {number}")
    page.until(f"lightsim.store.measures.drop?.drop === {number}")
    page.get("lightsim.link.send('pick', {drop: null})")
    page.until("lightsim.store.state.drop === null")


def test_pictures_are_kept_compared_and_gone_back_to(hand):
    page = hand.page
    hand.press(page.page.get_by_role("button", name="Keep this picture"))
    page.get("lightsim.store.move('flash', {angle: 100})")
    page.until("lightsim.store.state.lights[0].angle === 100")
    hand.press(page.page.get_by_role("button", name="Compare with 60°, 10 o’clock"))
    assert page.page.locator("#other").is_visible()
    hand.slide(page.page.locator("#wipe"), 0.2, "Home")
    page.until("Number(document.getElementById('wipe').value) < 35")
    hand.press(page.page.get_by_role("button", name="End comparing"))
    hand.press(page.page.get_by_role("button", name="Go back to 60°, 10 o’clock"))
    page.until("lightsim.store.state.lights[0].angle === 60")
    assert not page.page.locator("#other").is_visible()


def test_the_water_is_sprayed_anew_and_undone(hand):
    page = hand.page
    seed = page.table()["drops"]["seed"]
    hand.press(page.page.get_by_role("button", name="Spray anew"))
    page.until(f"lightsim.store.state.table.drops.seed === {seed + 1}")
    hand.press(page.page.get_by_role("button", name="Undo"))
    page.until(f"lightsim.store.state.table.drops.seed === {seed}")


def test_the_picture_is_enlarged_and_burnt_out_parts_are_marked(hand):
    page = hand.page
    hand.press(page.page.get_by_role("button", name="Larger"))
    page.until("document.getElementById('zoom-shown').textContent === '141 %'")
    hand.press(page.page.get_by_role("button", name="Fit"))
    hand.press(page.page.get_by_label("Mark burnt-out parts"), key="Space")
    page.until("lightsim.photo.viewer.options.hatched === true")
