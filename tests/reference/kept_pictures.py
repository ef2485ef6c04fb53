"""The path tracer's pictures of a set, rendered or kept from an earlier run.

They depend on the set and on the path tracer alone: while our tracer is changed they need rendering once.
`LIGHTSIM_REFERENCE_PICTURES=FOLDER` keeps them in a folder; without it they are rendered each time.
"""

from __future__ import annotations

import hashlib
import os
import pickle
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lightsim.picture import luminance
from lightsim.scene.stage import Stage
from lightsim.whole_file import replacing

KEEP_IN = "LIGHTSIM_REFERENCE_PICTURES"
HERE = Path(__file__).parent


def path_traced(
    stage: Stage, width_px: int, lights: tuple[str, ...] | None, samples: int, seeds: int
) -> NDArray[np.float32]:
    """Luminances (seeds, h, w) of some lights of a stage together, or of its dome (None), by Mitsuba."""
    folder = os.environ.get(KEEP_IN)
    if not folder:
        return _rendered(stage, width_px, lights, samples, seeds)
    kept = Path(folder) / f"{_digest((stage, width_px, lights, samples, seeds))}.npy"
    if kept.exists():
        return np.load(kept)
    pictures = _rendered(stage, width_px, lights, samples, seeds)
    kept.parent.mkdir(parents=True, exist_ok=True)
    with replacing(kept) as part, open(part, "wb") as file:
        np.save(file, pictures)
    return pictures


def _rendered(
    stage: Stage, width_px: int, lights: tuple[str, ...] | None, samples: int, seeds: int
) -> NDArray[np.float32]:
    from tests.reference import variant

    variant.choose()
    import mitsuba

    from tests.reference.translate import mitsuba_scene

    scene = mitsuba_scene(stage, width_px, lights, samples)
    pictures = [luminance(np.array(mitsuba.render(scene, seed=seed))) for seed in range(seeds)]
    return np.array(pictures, dtype=np.float32)


def path_tracer() -> str:
    """The path tracer's version, or that it is not installed."""
    try:
        return version("mitsuba")
    except PackageNotFoundError:
        return "not installed"


def _digest(asked: object) -> str:
    translation = (HERE / "translate.py").read_bytes()
    return hashlib.sha256(pickle.dumps(asked, protocol=5) + translation).hexdigest()[:24]
