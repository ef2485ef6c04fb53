"""The numbers of `lightsim exposure`, units in the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from lightsim.optics.marks import F_NUMBERS
from lightsim.optics.trade import FLASH, ROOM, Settings
from lightsim.planning.exposure.scene_trade import Trade
from lightsim.planning.levels import incident_stops, level_figures, ratio_figures
from lightsim.planning.planned import Planned
from lightsim.scene.settings.quantities import QUANTITIES

if TYPE_CHECKING:
    from lightsim.planning.exposure.exposure import Exposure


def exposure_dict(found: Exposure) -> dict[str, Any]:
    """All of it."""
    start = found.plan if found.trade is None else found.trade.planned
    return {
        "settings": _settings(start.settings, start),
        "levels": level_figures(start.levels),
        "incident_meter": _incident(start),
        "lighting_ratio": ratio_figures(start.ratio),
        "petal_reflectance": start.seen.mean_reflectance,
        "wanted_depth_mm": found.plan.depth_mm,
        "wanted_depth_is": found.plan.depth_from,
        "trade": None if found.trade is None else _trade(found.trade, found.unset),
        "sharpest": {
            "f_number": found.best_f_number,
            "f_number_mark": F_NUMBERS.nearest(found.best_f_number).label,
        },
        "table": {
            "held": found.held,
            "solved": found.solved,
            "to_mid_tone": found.to_mid_tone and found.trade is None,
            "rows": [row.as_dict() for row in found.rows],
        },
        "advice": [each.as_dict() for each in found.advice],
    }


def _settings(settings: Settings, plan: Planned) -> dict[str, Any]:
    found: dict[str, Any] = {
        "f_number": QUANTITIES["f_number"].tidy(settings.f_number),
        "exact_f_number": settings.f_number,
        "effective_f_number": settings.effective_f_number,
        "iso": settings.iso,
        "shutter_s": settings.shutter_s,
        "room_light_lx": settings.room_lx if plan.levels.part(ROOM) > 0 else 0.0,
    }
    if plan.flash is not None:
        found["flash"] = {
            "name": plan.flash.name,
            "power": settings.power,
            "distance_mm": settings.distance_mm,
            "diffuser_stops": settings.diffuser_stops,
            "near_loss_stops": settings.face.near_loss_stops(settings.distance_mm),
        }
    return found


def _incident(plan: Planned) -> list[dict[str, Any]]:
    return [
        {"light": light.name, "stops_over": incident_stops(plan.scene, plan.stage, light)}
        for light in plan.stage.lights
    ]


def _trade(trade: Trade, unset: tuple[str, ...]) -> dict[str, Any]:
    parts = (ROOM,) if trade.planned.flash is None else (FLASH, ROOM)
    return {
        "held": trade.held,
        "to_mid_tone": trade.to_mid_tone,
        "given_stops": {part: trade.given_stops(part) for part in parts},
        "after_stops": {part: trade.after_stops(part) for part in parts},
        "settings_after": _settings(trade.after, trade.planned),
        "levels_after": level_figures(trade.levels),
        "solved": None if trade.solved is None else trade.solved.as_dict(),
        "flashes": [
            {
                "name": flash.name,
                "given_stops": flash.given_stops,
                "after_stops": flash.after_stops,
                "solved": None if flash.solved is None else flash.solved.as_dict(),
            }
            for flash in trade.flashes
        ],
        "equivalents": [other.as_dict() for other in trade.others],
        "what_else_would_do": list(trade.elsewhere),
        "cannot_stand": list(unset),
    }
