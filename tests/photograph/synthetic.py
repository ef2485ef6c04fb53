"""Layers and stages drawn by hand, so that what a photograph of them must be is known."""

import numpy as np

from lightsim.optics.lens_records import CameraGeometry
from lightsim.picture import DropsSeen, Layer, Layers, Maps
from lightsim.scene.stage import Face, Stage, StagedLight

EFFECTIVE_F_NUMBER = 16.0


def maps_of(shape, drop=None):
    """All petal; `drop`, (h, w) bool, is a drop."""
    drop = np.zeros(shape, bool) if drop is None else drop
    cover = drop.astype(np.float32)
    seen = DropsSeen(np.zeros((0, 2)), np.zeros(0), np.zeros(0), np.zeros(0))
    none = np.zeros(shape, np.float32)
    return Maps(1 - cover, cover, none, np.where(drop, 0, -1).astype(np.int32), none, seen)


def layer(name, unit, petal, glint=0.0, surface=0.0, water=0.0):
    """A layer; petal is (h, w, 3) or a colour spread over 8 x 12 pixels, the other parts numbers or
    arrays."""
    petal = np.asarray(petal, np.float32)
    petal = np.broadcast_to(petal, (8, 12, 3)) if petal.ndim == 1 else petal
    shape = petal.shape[:2]
    full = [np.broadcast_to(np.float32(part), (*shape, 3)) for part in (surface, water)]
    seen = np.ones(shape, np.float32) if unit != "lx" else None
    return Layer(name, unit, np.broadcast_to(np.float32(glint), shape), full[0], full[1], petal, seen)


def layers_of(*layers, drop=None, mm_per_px=0.025):
    """Layers by name, with maps of their size."""
    shape = layers[0].petal.shape[:2]
    return Layers({each.light: each for each in layers}, maps_of(shape, drop), mm_per_px)


def stage_of(*lights, ambient_lx=0.0, ambient_kelvin=6504.0, n_eff=EFFECTIVE_F_NUMBER, magnification=1.0):
    """A stage with nothing on it but lights: (name, kind, output, kelvin) each, and a flash's duration in
    seconds where it matters."""
    face = Face(np.zeros(3), *np.eye(3), 30.0, 20.0)
    staged = tuple(StagedLight(name, kind, face, *rest) for name, kind, *rest in lights)
    camera = CameraGeometry(24.0, 1.5, 200.0, 3.0, 140.0, magnification, n_eff, 300.0, 350.0)
    nothing = np.zeros(3, np.float32)
    return Stage(
        None, None, camera, staged, (), np.array([0.0, 1, 0]), ambient_lx, 0.0, ambient_kelvin, None, nothing
    )
