"""Messages of a page: what is allowed, and the sentence for what is not."""

import json

import pytest

from lightsim.errors import LightsimError
from lightsim.live.page_connection import MOST_BYTES, merged, parsed


def test_a_message_comes_with_all_its_fields():
    message = parsed('{"kind": "move", "thing": "flash", "angle": 30}')
    assert message == {
        "kind": "move", "thing": "flash", "angle": 30, "clock": None, "distance": None, "gesture": None,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "broken JSON"),
        ("[" * 100_000, "broken JSON"),
        ("[]", "the kind 'None'"),
        ('{"kind": "format the disk"}', "the kind 'format the disk'"),
        ('{"kind": ["set"]}', "the kind"),
        ('{"kind": "move", "thing": 3}', "found '3', allowed text"),
        ('{"kind": "move", "thing": "flash", "angle": "30"}', "allowed a number"),
        ('{"kind": "move", "thing": "flash", "angle": true}', "allowed a number"),
        ('{"kind": "move", "thing": "flash", "angle": NaN}', "broken JSON"),
        ('{"kind": "move", "thing": "flash", "angle": 1e999}', "found 'inf'"),
        ('{"kind": "undo", "more": 1}', "the field 'more', allowed none"),
        ('{"kind": "hand"}', "allowed true or false"),
        (json.dumps({"kind": "open", "file": "x" * MOST_BYTES}), "allowed up to"),
    ],
)
def test_what_is_not_allowed_is_answered_with_what_was_found(text, words):
    with pytest.raises(LightsimError, match=words.replace("[", r"\[")):
        parsed(text)


def changes(**fields):
    return parsed(json.dumps({"gesture": "a drag", **fields}))


def test_changes_of_one_gesture_join_into_one():
    first = changes(kind="move", thing="flash", angle=30, clock=9)
    assert merged(first, changes(kind="move", thing="flash", angle=40))["angle"] == 40
    assert merged(first, changes(kind="move", thing="flash", angle=40))["clock"] == 9
    values = merged(changes(kind="set", values={"a": 1, "b": 2}), changes(kind="set", values={"b": 3}))[
        "values"
    ]
    assert values == {"a": 1, "b": 3}


@pytest.mark.parametrize(
    "then",
    [
        {"kind": "move", "thing": "card", "angle": 40},
        {"kind": "move", "thing": "flash", "angle": 40, "gesture": "another drag"},
        {"kind": "set", "values": {"a": 1}},
    ],
)
def test_changes_of_other_things_or_gestures_stay_apart(then):
    assert merged(changes(kind="move", thing="flash", angle=30), changes(**then)) is None


def test_a_change_that_holds_the_exposure_is_done_by_itself():
    held = changes(kind="set", values={"a": 1}, hold="iso")
    assert merged(held, held) is None
    alone = parsed('{"kind": "set", "values": {"a": 1}}')
    assert merged(alone, alone) is None
