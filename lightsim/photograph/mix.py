"""Mixing the lights: each layer times its light's output and colour, all balanced to one white and added.

The image-plane exposure of a layer is H = q L t / N_eff^2 (ISO 12232; a flash's layer holds L t already),
and the picture's linear scale puts H = 10/S at 0.18. All that is one (3, 3) matrix per light, so the
light's colour, the white balance, the settings and the f-number cost one pass over the layers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.errors import SceneError
from lightsim.optics.colour import TEMPERATURE_RANGE_K, white_balance_matrix, white_of_temperature
from lightsim.optics.exposure_values import image_exposure_lxs, linear_per_lxs
from lightsim.picture import Floats, Layers, bare_petal
from lightsim.scene.records import Exposure
from lightsim.scene.stage import Stage

AMBIENT = "ambient"
# Pixels worked on at a time: few enough to stay in the processor's cache, and for the matrix product to
# stay on one core (on a busy machine its threads wait for one another longer than they work).
_ROWS_PIXELS = 20_000
_SUM_PIXELS = 3_000

Matrix = NDArray[np.float32]


@dataclass(frozen=True)
class Source:
    """What a layer is multiplied by. kind: "flash" (output in cd s), "continuous" (cd) or "ambient" (lx).

    flash_duration_s : how long a flash burns; 1/2000 s is a small one at middling power (common practice, no
    source).
    """

    kind: str
    output: float
    colour_temperature_k: float
    flash_duration_s: float = 1 / 2000

    def shines_s(self, shutter_s: float) -> float:
        """How long the sensor gets its light."""
        return min(self.flash_duration_s, shutter_s) if self.kind == "flash" else shutter_s


def sources_of(stage: Stage) -> dict[str, Source]:
    """The lights of a stage by name, in order, and the dome as "ambient"."""
    sources = {
        light.name: Source(light.kind, light.output, light.colour_temperature_k, light.flash_duration_s)
        for light in stage.lights
    }
    sources[AMBIENT] = Source(AMBIENT, stage.ambient_illuminance_lx, stage.ambient_colour_temperature_k)
    return sources


def balance_kelvin(white_balance: str | float, sources: Mapping[str, Source], key: str) -> float:
    """The colour temperature that is to look neutral: of a named light, of the key, of the dome, or the
    number."""
    low, high = TEMPERATURE_RANGE_K
    names = ", ".join(f'"{name}"' for name in ("key", *sources))
    allowed = f"allowed are {names}, or {low:g} to {high:g} kelvin"
    if isinstance(white_balance, str):
        name = key if white_balance == "key" else white_balance
        if name not in sources:
            raise SceneError(f'exposure.white_balance: "{white_balance}" names no light; {allowed}.')
        return sources[name].colour_temperature_k
    if not low <= white_balance <= high:
        raise SceneError(f"exposure.white_balance: {white_balance:g} kelvin is out of range; {allowed}.")
    return float(white_balance)


def linear_per_unit(
    source: Source, exposure: Exposure, effective_f_number: float, gain_stops: float
) -> float:
    """Linear value for a layer of 1 cd/m2 per unit of the source's output."""
    time_s = 1.0 if source.kind == "flash" else exposure.shutter_s
    exposure_lxs = image_exposure_lxs(source.output, effective_f_number, time_s)
    return exposure_lxs * linear_per_lxs(exposure.exact_iso) * 2.0**gain_stops


def matrices(
    sources: Mapping[str, Source],
    exposure: Exposure,
    effective_f_number: float,
    key: str,
    gain_stops: float = 0.0,
) -> dict[str, Matrix]:
    """For each source the (3, 3) float32 matrix that takes its layer (..., 3) @ M to the linear picture."""
    balance = balance_matrix(sources, exposure, key)
    colours = unbalanced(sources, exposure, effective_f_number, gain_stops)
    return {name: (balance @ colour).T.astype(np.float32) for name, colour in colours.items()}


def unbalanced(
    sources: Mapping[str, Source], exposure: Exposure, effective_f_number: float, gain_stops: float = 0.0
) -> dict[str, NDArray]:
    """The same matrices without the white balance: diagonal, so that they do not mix the channels."""
    return {
        name: linear_per_unit(source, exposure, effective_f_number, gain_stops)
        * np.diag(white_of_temperature(source.colour_temperature_k))
        for name, source in sources.items()
    }


def balance_matrix(sources: Mapping[str, Source], exposure: Exposure, key: str) -> NDArray:
    """(3, 3), what the white balance makes of a colour: balance @ colour."""
    kelvin = balance_kelvin(exposure.white_balance, sources, key)
    return white_balance_matrix(white_of_temperature(kelvin))


def metered(layers: Layers) -> NDArray[np.bool_]:
    """(h, w) bool, the pixels that the exposure goes by: bare petal, or all where there is none."""
    bare = bare_petal(layers.maps)
    return bare if bare.any() else np.ones_like(bare)


def petal_colours(layers: Layers) -> dict[str, NDArray[np.float64]]:
    """For each layer the mean colour (3,) of the bare petal, cd/m2 per unit of the light's output."""
    bare = metered(layers)
    weights = bare.astype(np.float32).ravel()
    count = np.count_nonzero(bare)
    return {name: _weighted_sum(weights, layer.petal) / count for name, layer in layers.by_light.items()}


def _weighted_sum(weights: Floats, colours: Floats) -> NDArray[np.float64]:
    """(3,), summed in parts: exact enough in float32, and on one core."""
    flat = colours.reshape(-1, 3)
    parts = range(0, len(weights), _SUM_PIXELS)
    sums = [weights[start : start + _SUM_PIXELS] @ flat[start : start + _SUM_PIXELS] for start in parts]
    return np.sum(sums, axis=0, dtype=np.float64)


def mix_layers(layers: Layers, by_light: Mapping[str, Matrix]) -> Floats:
    """All layers named, each times its matrix, added: (h, w, 3) float32, linear, neither clipped nor
    blurred."""
    height, width = layers.shape
    mixed = np.zeros((height, width, 3), np.float32)
    step = max(1, _ROWS_PIXELS // width)
    work = np.empty((min(step, height) * width, 3), np.float32)
    totals = {name: layers.by_light[name].total() for name in by_light}
    for top in range(0, height, step):
        into = mixed[top : top + step].reshape(-1, 3)
        for name, matrix in by_light.items():
            np.matmul(totals[name][top : top + step].reshape(-1, 3), matrix, out=work[: len(into)])
            into += work[: len(into)]
    return mixed


def balanced(colours: Floats, matrix: Matrix) -> Floats:
    """Colours (h, w, 3) times a matrix, a few rows at a time: see `_ROWS_PIXELS`."""
    result = np.empty_like(colours)
    step = max(1, _ROWS_PIXELS // colours.shape[1])
    for top in range(0, len(colours), step):
        rows = colours[top : top + step]
        result[top : top + step] = (rows.reshape(-1, 3) @ matrix).reshape(rows.shape)
    return result
