"""The usual cautions about water, flashes, lamps and heavy lenses, each where its cause is on the set.

IEC 60491 takes flash units not to be exposed to dripping or splashing water; IEC 61008-1 and IEC 60529 are
the standards of residual-current devices and of splash-proof fittings. The rest is common practice, no
source. None of this replaces the makers' manuals, the local electrical code or a qualified person.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lightsim.planning.advice.all_advice import advice
from lightsim.planning.planned import planned
from lightsim.report.setup.plan_records import Caution
from lightsim.scene.records import Light, Scene

LAST_WORD = (
    "The makers’ manuals and the local electrical code come first; leave electrical work and repairs to "
    "qualified people."
)
LONG_TUBES_MM = 25.0  # tubes from here on let a heavy lens pull hard at the mount; our rule, no source
GLOWING_K = 3500.0  # a lamp of this colour or warmer may glow hot; our rule, no source
# A continuous light is a lamp unless its name says that it is the daylight; our rule, no source.
DAYLIGHT_WORDS = ("window", "daylight", "sky", "sun", "skylight", "sunlight")


def cautions(scene: Scene) -> tuple[Caution, ...]:
    """The cautions that this set calls for, in order of danger; none where there is no cause."""
    return tuple(_cautions(scene))


def marks(scene: Scene) -> tuple[Caution, ...]:
    """What `lightsim exposure` would mind about this set, each where its cause is: burnt-out highlights, the
    lens in the light, too little room, settings out of a flash's or a camera's range, room light that ghosts.
    """
    said = advice(planned(scene))
    return tuple(Caution(each.topic, each.sentence, each.on) for each in said if each.minds and each.on)


def _cautions(scene: Scene) -> Iterator[Caution]:
    flashes = [light for light in scene.lights if light.kind == "flash"]
    lamps = [light for light in scene.lights if is_lamp(light)]
    wet = scene.drops.count > 0 or bool(scene.drops.placed)
    if flashes and wet:
        yield Caution("flash and water", _FLASH_AND_WATER, _names(flashes))
    if flashes:
        yield Caution("flash inside", _FLASH_INSIDE, _names(flashes))
    if lamps and wet:
        yield Caution("mains and water", _MAINS_AND_WATER, _names(lamps))
    if flashes:
        yield Caution("flash and eyes", _FLASH_AND_EYES, _names(flashes))
    if lamps:
        yield _hot(lamps)
    yield from _tubes(scene)


def is_lamp(light: Light) -> bool:
    """Whether a light is continuous and, by its name, not the daylight."""
    words = light.name.lower().replace("-", " ").replace("_", " ").split()
    return light.kind == "continuous" and not any(word in DAYLIGHT_WORDS for word in words)


def _names(lights: Sequence[Light]) -> tuple[str, ...]:
    return tuple(light.name for light in lights)


_FLASH_AND_WATER = (
    "Keep water and spray away from the flash: wet the flower first, bring the flash and its leads in dry "
    "afterwards, and use no flash that has got wet."
)
_FLASH_INSIDE = (
    "Never open a flash: its capacitor holds a dangerous charge, even switched off and without batteries."
)
_FLASH_AND_EYES = (
    "Do not fire the flash at the eyes of people or animals, least of all from close by, and tell people "
    "whom flicker makes ill."
)
_MAINS_AND_WATER = (
    "Keep water and spray away from a light on the mains: feed it through a residual-current device (30 mA), "
    "with splash-proof fittings, plugs off the wet table and leads that hang in a loop below them. A battery "
    "light is safer."
)
_HOT = "Lamps get hot: keep petals, paper and fingers off and let them cool before you move them."
_SHATTERS = "Cold drops can shatter a glowing one."


def _hot(lamps: Sequence[Light]) -> Caution:
    glowing = any(lamp.colour_temperature_k <= GLOWING_K for lamp in lamps)
    return Caution("hot lamps", f"{_HOT} {_SHATTERS}" if glowing else _HOT, _names(lamps))


def _tubes(scene: Scene) -> Iterator[Caution]:
    """A lens held by long tubes."""
    length = 0.0 if scene.lens is None else sum(scene.lens.extension_tubes_mm)
    if length >= LONG_TUBES_MM:
        words = (
            f"{length:g} mm of tubes carry the lens: hold a heavy one up by its collar or a rest under it, "
            "above all on plastic tubes; the pull on the mount grows with the length."
        )
        yield Caution("lens on tubes", words, ("camera",))
