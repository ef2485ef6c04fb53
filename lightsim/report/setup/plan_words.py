"""The words of the plan's drawings: names, lengths with arrows, angles."""

from __future__ import annotations

from lightsim.report.setup.cautions_block import WARNING
from lightsim.report.setup.plan_records import Place, bare_length, length
from lightsim.report.words import plain


def called(place: Place, warned: bool = False) -> str:
    """A place's name, with what it is where the name does not say it, and a warning sign."""
    kind = {"flash": "flash", "card": "card"}.get(place.kind, "")
    name = place.name if not kind or kind in place.name.lower() else f"{place.name} ({kind})"
    return f"{name} {WARNING}" if warned else name


def offsets(across: float, along: float, across_signs: str, along_signs: str) -> str:
    """Two lengths at right angles with arrows as they run on the drawing: ← 193 ↓ 51 mm."""
    parts = []
    for value, signs in ((across, across_signs), (along, along_signs)):
        if round(abs(value)) > 0:
            parts.append(f"{signs[int(value > 0)]} {bare_length(abs(value))}")
    unit = "" if not parts or parts[-1].endswith("m") else " mm"
    return "  ".join(parts) + unit


def round_words(round_deg: float) -> str:
    """The direction seen from above, from the camera's side: 75° left."""
    angle = plain(abs(round_deg), 0)
    if angle == "0":
        return "straight toward the camera"
    if angle == "180":
        return "straight away"
    return f"{angle}° {'right' if round_deg > 0 else 'left'}"


def height_words(up_mm: float) -> str:
    """How far above or below the subject: ↑ 126 mm."""
    if round(abs(up_mm)) == 0:
        return "level"
    return f"{'↑' if up_mm > 0 else '↓'} {length(abs(up_mm))}"


def raised_words(raised_deg: float) -> str:
    """The angle above or below the level."""
    return f"{plain(raised_deg, 0)}°"


def tilt_words(looks_down_deg: float) -> str:
    """How the camera is tilted."""
    if abs(looks_down_deg) < 0.05:
        return "camera level"
    return f"camera {'down' if looks_down_deg > 0 else 'up'} {plain(abs(looks_down_deg), 1)}°"
