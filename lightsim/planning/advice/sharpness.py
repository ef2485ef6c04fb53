"""Advice on sharpness and room: the best f-number for a depth, a stack instead, lens and subject, lens and
light."""

from __future__ import annotations

from collections.abc import Iterator

from lightsim.optics.lens_figures import (
    STACK_OVERLAP,
    AtStop,
    about_second_lens,
    at_stop,
    pixel_limited_f_number,
    sharpest_f_number,
)
from lightsim.optics.lens_range import ranges
from lightsim.optics.marks import F_NUMBERS
from lightsim.planning.equivalents import SMALLEST_F_NUMBER, WIDEST_F_NUMBER
from lightsim.planning.planned import Advice, Planned, nearest_in_frame_mm
from lightsim.planning.settings_words import with_range
from lightsim.report.words import percent, plain, significant
from lightsim.scene.obstruction import hidden_share, unbuildable_words

CLEAR_MM = 15.0  # room before the lens under which it is said; our rule, no source
HIDDEN_SHARE = 0.02  # of the light, hidden by the lens, from which it is said; our rule, no source


def best_f_number(plan: Planned) -> float:
    """The exact f-number with the least blur at the ends of the wanted depth, within what lenses have."""
    low = WIDEST_F_NUMBER if plan.widest is None else plan.widest
    return min(max(sharpest_f_number(plan.train, plan.depth_mm), low), F_NUMBERS.exact(SMALLEST_F_NUMBER))


def sharpest(plan: Planned) -> Iterator[Advice]:
    """Where stopping down stops to pay, and what a stack would need."""
    best = at_stop(plan.train, best_f_number(plan), plan.depth_mm)
    now = at_stop(plan.train, plan.train.exact_f_number, plan.depth_mm)
    depth = f"{significant(plan.depth_mm, 3)} mm"
    mark = F_NUMBERS.nearest(best.f_number).label
    effective = f"effective f/{plain(best.effective_f_number, 0)}"
    words = f"{_beyond(plan, depth, mark)} ({effective}): there the ends blur to "
    words += f"{significant(best.edge_blur_um)} µm"
    words += _compared(now, best)
    rule = (
        "least square sum of defocus and Airy disc at both ends, focused on the middle: effective f-number "
        "m √(half the depth / 2.44 λ)"
    )
    past = now.f_number > best.f_number * 2.0 ** (0.5 / 2)
    yield Advice("sharpness", words, rule, best.f_number, "f-number", past)
    yield _stack(plan)


def _beyond(plan: Planned, depth: str, mark: str) -> str:
    """The f-number up to which stopping down pays, or that the lens ends before it."""
    free, kept = sharpest_f_number(plan.train, plan.depth_mm), best_f_number(plan)
    if free > kept * 1.01:
        return f"For {depth} of depth stopping down pays down to the smallest stop of most lenses, {mark}"
    if free < kept * 0.99:
        return f"For {depth} of depth stopping down never pays: sharpest is the widest, {mark}"
    return f"For {depth} of depth diffraction costs more than depth gains beyond {mark}"


def _compared(now: AtStop, best: AtStop) -> str:
    if F_NUMBERS.nearest(now.f_number).label == F_NUMBERS.nearest(best.f_number).label:
        return ", where it stands."
    return f", at {F_NUMBERS.label(now.f_number)} to {significant(now.edge_blur_um)} µm."


def second_lens(plan: Planned) -> Iterator[Advice]:
    """Which of two f-numbers counts where a second lens is screwed before the first."""
    for words in about_second_lens(plan.train):
        rule = "the stop that leaves the narrowest cone from the subject sets the light and the depth"
        minds = plan.train.second_effective_f_number > plan.train.lens_effective_f_number
        yield Advice("stop", words, rule, plan.train.effective_f_number, "effective f-number", minds)


def _stack(plan: Planned) -> Advice:
    low = WIDEST_F_NUMBER if plan.widest is None else plan.widest
    chosen = F_NUMBERS.nearest(max(pixel_limited_f_number(plan.train), low)).exact
    found = at_stop(plan.train, chosen, plan.depth_mm)
    frames = f"{found.stack_frames} frames" if found.stack_frames > 1 else "one frame"
    at = f"{F_NUMBERS.label(chosen)}, where diffraction just covers two pixels"
    words = f"A focus stack at {at}, takes {frames}"
    words += (
        f", {significant(found.stack_step_mm)} mm from one to the next." if found.stack_frames > 1 else "."
    )
    rule = (
        f"frames that share {percent(STACK_OVERLAP)} of their depth of field; 1.22 λ × effective f-number = "
        "two pixels"
    )
    return Advice("focus stack", words, rule, float(found.stack_frames), "frames", False)


def room_before_lens(plan: Planned) -> Iterator[Advice]:
    """How much room is left between the subject and the front of the lens."""
    working = plan.stage.camera.working_distance_mm
    reach = nearest_in_frame_mm(plan.stage, plan.seen)
    left, span = working - reach, ranges(plan.train).working_distance_mm
    if left < CLEAR_MM:
        words = (
            f"The lens nearly touches the subject: {plain(left, 0)} mm are left before its front, "
            f"{with_range(working, span, 0, ' mm')} from where it is sharp."
        )
        rule = f"working distance less what reaches toward the lens; said under {CLEAR_MM:g} mm (our rule)"
        yield Advice("working distance", words, rule, left, "mm", on=("camera",))


def lens_in_the_light(plan: Planned) -> Iterator[Advice]:
    """Lights that solid things hide from the subject: the lens, the camera, other lamps, cards."""
    for light in plan.stage.lights:
        hidden = hidden_share(plan.stage, light)
        if hidden > HIDDEN_SHARE:
            words = (
                f"Solid things (lens, camera, other lamps, cards) hide {percent(hidden)} of the light of "
                f"{light.name}: move what is in its way, or the light farther off the axis or nearer than "
                "the lens’s front."
            )
            rule = "straight lines from the light's face to the field, against the bodies on the set"
            yield Advice("lens and light", words, rule, hidden, "share", on=(light.name, "camera"))


def overlaps(plan: Planned) -> Iterator[Advice]:
    """What of the set cannot be built."""
    scene = plan.scene
    names = ["camera", *(light.name for light in scene.lights), *(card.name for card in scene.cards)]
    for sentence in unbuildable_words(plan.scene, plan.stage):
        on = tuple(name for name in names if name in sentence.split())
        words = f"This cannot be built: {sentence}."
        yield Advice("not buildable", words, "bodies on the set that overlap", on=on or ("camera",))
