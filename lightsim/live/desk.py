"""The one set that all pages of a server share: what each message does to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from secrets import token_hex
from typing import Any

from lightsim.errors import LightsimError, SceneError
from lightsim.live import picture_places
from lightsim.live.pages_made import make_page
from lightsim.live.scene_draft import SceneDraft, save_draft, table_of, with_value
from lightsim.live.scene_state import state_or_problems
from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import FLASH, MOVES, ROOM, change_stops
from lightsim.planning.equivalents import equivalent_setting
from lightsim.planning.levels import settings_of
from lightsim.scene.file.read import load_scene
from lightsim.scene.records import Card, Light, Scene
from lightsim.scene.settings.change_light import flash_traded, placed_by_angle
from lightsim.scene.settings.quantities import change_scene

Message = dict[str, Any]


class Desk:
    """The scene, its history and its file. Used by one thread.

    wish : called with a revision and a scene that is to be drawn.
    tell : called with a message for all pages.
    """

    def __init__(
        self,
        scene: Scene,
        wish: Callable[[int, Scene], None],
        tell: Callable[[Message], None],
        is_new: bool = False,
    ):
        self.draft = SceneDraft(scene)
        self.run = token_hex(8)
        self.revision = 0
        self.drop: int | None = None
        self.is_new = is_new  # no scene was named: the page asks what stands on the table
        self._wish, self._tell = wish, tell
        self._stamp = self._stamp_now()
        self._untouched = True

    def state(self) -> Message:
        """The message that tells a page all that is known without a trace."""
        draft = self.draft
        known, problems = state_or_problems(draft.scene)
        return {
            "kind": "state",
            "revision": self.revision,
            "table": draft.table,
            "file": None if draft.path is None else draft.path.name,
            "folder": str(draft.folder.resolve()),
            "saved": draft.is_saved,
            "can_undo": draft.can_undo,
            "can_redo": draft.can_redo,
            "is_new": self.is_new,
            "drop": self.drop,
            "problems": problems,
            **(known or {}),
        }

    def begin(self) -> None:
        """Wish for the first picture."""
        self._wish(self.revision, self.draft.scene)

    def act(self, message: Message) -> None:
        """Do what a message asks for. LightsimError where that is not allowed; then nothing has changed."""
        kind = message["kind"].replace(" ", "_")
        getattr(self, f"_on_{kind}")(message)

    def _change(self, scene: Scene, gesture: str | None = None) -> None:
        """Make a scene the present one, once it is checked as a scene file is."""
        checked = self.draft.scene_of(table_of(scene))
        self.draft.take(checked, gesture)
        self._changed()

    def _changed(self) -> None:
        self.revision += 1
        self._untouched = False
        self._wish(self.revision, self.draft.scene)
        self._tell(self.state())

    def _on_set(self, message: Message) -> None:
        table = self.draft.table
        for path, value in message["values"].items():
            table = with_value(table, str(path), value)
        scene = self.draft.scene_of(table)
        if message["hold"] is not None:
            scene = exposure_held(self.draft.scene, scene, message["hold"])
        self.is_new = False
        self._change(scene, message["gesture"])

    def _on_move(self, message: Message) -> None:
        """A light or a card elsewhere."""
        changes = {
            name: float(message[name]) for name in ("angle", "clock", "distance") if message[name] is not None
        }
        scene, name = self.draft.scene, message["thing"]
        if any(light.name == name for light in scene.lights):
            moved = change_scene(scene, changes, name)
        elif any(card.name == name for card in scene.cards):
            cards = tuple(_moved_card(it, changes) if it.name == name else it for it in scene.cards)
            moved = replace(scene, cards=cards)
        else:
            raise LightsimError(f"found no light or card called {name[:60]!r}")
        self._change(moved, message["gesture"])

    def _on_undo(self, _: Message) -> None:
        if self.draft.step(back=True):
            self._changed()

    def _on_redo(self, _: Message) -> None:
        if self.draft.step(back=False):
            self._changed()

    def _on_go_to(self, message: Message) -> None:
        self._change(self.draft.scene_of(message["table"]))

    def _on_pick(self, message: Message) -> None:
        drop = message["drop"]
        if drop is not None and drop < 0:
            raise LightsimError(f"drop: found {drop}, allowed a number from 0")
        self.drop = drop
        self._changed()

    def _on_focus(self, message: Message) -> None:
        self._change(picture_places.focused_at(self.draft.scene, *_place(message)))

    def _on_put_drop(self, message: Message) -> None:
        made = picture_places.with_drop_at(self.draft.scene, *_place(message), float(message["diameter_mm"]))
        self.drop = len(made.drops.placed) - 1
        self._change(made)

    def _on_move_drop(self, message: Message) -> None:
        made = picture_places.with_drop_moved(self.draft.scene, message["drop"], *_place(message))
        self.drop = message["drop"]
        self._change(made, message["gesture"])

    def _on_remove_drop(self, message: Message) -> None:
        made = picture_places.without_drop(self.draft.scene, message["drop"])
        self.drop = None
        self._change(made)

    def _on_hello(self, message: Message) -> None:
        """A page that was connected to a server that has ended hands over its set, unless this one has been
        worked on since."""
        if message["table"] is None or message["run"] in (None, self.run) or not self._untouched:
            return
        scene = self.draft.scene_of(message["table"])
        if scene != self.draft.scene:
            self._change(scene)
            self._tell(
                {"kind": "note", "words": "The set as this page had it is back; undo goes to the file's."}
            )

    def _on_save(self, message: Message) -> None:
        draft = self.draft
        path = draft.path if message["file"] is None else self._named(message["file"])
        if path is None:
            raise LightsimError("save: found no file name, allowed a name such as my-set.toml")
        same = draft.path is not None and path == draft.path
        if path.exists() and not same and not message["force"]:
            self._tell({"kind": "ask", "about": "overwrite", "file": path.name})
            return
        if same and self.changed_outside() and not message["force"]:
            self._tell({"kind": "ask", "about": "changed", "file": path.name})
            return
        original = draft.path if draft.path is not None and draft.path.exists() else None
        save_draft(draft.scene, path, original)
        draft.path, draft.folder, draft.saved = path, path.parent, draft.table
        draft.scene = replace(draft.scene, path=path)
        self._stamp, self.is_new = self._stamp_now(), False
        self._tell(self.state())
        self._tell({"kind": "note", "words": f"Saved in {path.name}."})

    def _on_open(self, message: Message) -> None:
        self.draft.reopened(_loaded(self._named(message["file"])))
        self.draft.folder = self.draft.path.parent if self.draft.path else self.draft.folder
        self._stamp, self.is_new = self._stamp_now(), False
        self._changed()

    def _on_take_file(self, _: Message) -> None:
        if self.draft.path is not None:
            self.draft.reopened(_loaded(self.draft.path))
            self._stamp = self._stamp_now()
            self._changed()

    def _on_keep_mine(self, _: Message) -> None:
        self._stamp = self._stamp_now()

    def _on_make(self, message: Message) -> None:
        """A page made of what was kept, written beside the scene."""
        kept = [self._kept(entry) for entry in message["kept"] or []]
        name = "scene" if self.draft.path is None else self.draft.path.stem
        self._tell({"kind": "note", "words": "Making it; this takes a while."})
        written = make_page(message["what"], self.draft.scene, kept, self.draft.folder, name)
        self._tell({"kind": "made", "what": message["what"], "files": [path.name for path in written]})

    def _kept(self, entry: Any) -> Scene:
        """The scene of a kept picture, {"name": text, "table": the scene}, its name as the title."""
        table, name = (entry.get("table"), entry.get("name")) if isinstance(entry, dict) else (None, None)
        if not isinstance(table, dict) or not isinstance(name, str):
            raise LightsimError("make: found a kept picture without name or table, allowed one with both")
        named = " ".join(name.split())[:60]
        return self.draft.scene_of({**table, "title": named} if named else table)

    def changed_outside(self) -> bool:
        """Whether the file is another than the one that was read or written last."""
        return self.draft.path is not None and self._stamp_now() not in (None, self._stamp)

    def _stamp_now(self) -> tuple[int, int] | None:
        try:
            found = None if self.draft.path is None else self.draft.path.stat()
        except OSError:
            return None
        return None if found is None else (found.st_mtime_ns, found.st_size)

    def _named(self, name: str) -> Path:
        """A file beside the scene, or where the person said."""
        path = Path(name).expanduser()
        path = path if path.is_absolute() else self.draft.folder / path
        return path if path.suffix else path.with_suffix(".toml")


def _loaded(path: Path) -> Scene:
    """The scene of a file. SceneError names the file in each sentence."""
    try:
        return load_scene(path)
    except SceneError as error:
        raise SceneError([f"{path.name}: {problem}" for problem in error.problems], path) from None


def _place(message: Message) -> tuple[float, float]:
    """Shares of the picture's width and height."""
    x, y = float(message["x"]), float(message["y"])
    if not (0.0 <= x <= 1.0 and 0.0 <= y <= 1.0):
        raise LightsimError(f"place: found {x:g}, {y:g}, allowed shares of the picture from 0 to 1")
    return x, y


def _moved_card(card: Card, changes: dict[str, float]) -> Card:
    keys = {"angle": "angle_deg", "clock": "clock", "distance": "distance_mm"}
    stand_in = placed_by_angle(Light(**{key: getattr(card, key) for key in ("position_mm", *keys.values())}))
    polar = {key: getattr(stand_in, key) for key in keys.values()}
    polar |= {keys[name]: value for name, value in changes.items()}
    return replace(card, position_mm=None, **polar)


HOLDS = ("power", "shutter", "iso", "f-number", "distance")


def exposure_held(before: Scene, after: Scene, name: str) -> Scene:
    """The changed scene with the setting of that name moved so that the exposure stays.

    The flash's part is held where there is a flash and the setting moves it, else the room's.
    LightsimError where usual gear cannot be set so.
    """
    if name not in HOLDS:
        raise LightsimError(f"hold: found {name[:40]!r}, allowed {', '.join(HOLDS)}")
    flash_before, flash = flash_traded(before, None), flash_traded(after, None)
    part = FLASH if flash is not None and FLASH in MOVES[name] else ROOM
    if part not in MOVES[name]:
        raise LightsimError(f"hold: found {name}, allowed where a flash is on the set")
    settings = settings_of(after, flash)
    stops = -change_stops(settings_of(before, flash_before), settings, part)
    if abs(stops) < 1e-9:
        return after
    mark = None if after.lens is None else after.lens.widest_f_number
    found = equivalent_setting(settings, name, part, stops, None if mark is None else F_NUMBERS.exact(mark))
    if not found.within_reach or found.value is None:
        raise LightsimError(f"{name} cannot hold the exposure here: {found.note or found.label}")
    return change_scene(after, {name.replace("-", "_"): found.value}, None if flash is None else flash.name)
