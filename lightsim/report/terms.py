"""The words that pages and tables use, each explained in a sentence or two."""

from __future__ import annotations

from difflib import get_close_matches

from lightsim.errors import LightsimError

GLOSSARY: dict[str, str] = {
    "angle off the lens axis": (
        "Where a light stands, seen from the flower: 0° comes from the lens, 90° from the side, 180° "
        "from behind."
    ),
    "clock position": (
        "Where a light stands seen from the camera: 12 is above, 3 to the right, 6 below, 9 to the left."
    ),
    "frontal, three-quarter, side and back light": (
        "Light from 0 to 30°, 30 to 60°, 60 to 120° and beyond 120° off the lens axis (common practice, "
        "no source)."
    ),
    "key": "The light that shapes the picture; the first one of a scene. All other light is fill.",
    "fill": "Light that opens the shadows: the room, cards, other lamps.",
    "lighting ratio": (
        "Key and fill together to fill alone, on the petal as it is seen: 8 : 1 is three stops."
    ),
    "stop": "A factor of two in light. Every setting can be counted in stops, and so traded for another.",
    "guide number": (
        "What a flash gives: distance in metres times f-number for a right exposure at ISO 100 and full "
        "power. Too high a promise close to a large face."
    ),
    "effective f-number": (
        "The f-number that counts close up: marked f-number times one plus magnification (for a pupil "
        "ratio of 1), for exposure, diffraction and depth alike."
    ),
    "magnification": (
        "Size of the picture on the sensor to size of the flower: at 1 : 1 a drop of 1 mm is 1 mm there."
    ),
    "working distance": "Free space between the flower and whatever is foremost on the lens.",
    "extension": "Tubes or bellows between lens and camera; more of them, more magnification and less light.",
    "close-up lens": (
        "A lens screwed before the lens; its strength in dioptres is one over its focal length in "
        "metres. It costs no light by itself."
    ),
    "depth of field": (
        "How far before and behind the focus a point still looks sharp, that is, is drawn no wider than "
        "the circle of confusion."
    ),
    "circle of confusion": (
        "The widest blur on the sensor that still counts as a point; here its diagonal / 1500."
    ),
    "diffraction": (
        "Light spreads as it passes the lens opening, the more the smaller that is: stopped down far, "
        "all softens."
    ),
    "highlight": (
        "The mirror image of a light in a drop. Its shape is the light's, its place shows the light's angle."
    ),
    "caustic": (
        "The bright spot that a drop gathers, within it or in its own shadow, on the side away from the "
        "light."
    ),
    "petal contrast": (
        "Bright parts of the bare petal to its dark parts (95th to 5th percentile), as a ratio and in stops."
    ),
    "shadow depth": "Petal in the key's light to petal in a shadow that something casts on it.",
    "texture": "How strongly the petal's fine relief shows: the contrast of details of a stated size.",
    "clipped": "At the sensor's limit: brighter than it can tell, so all detail there is lost.",
    "contact angle": (
        "The angle at which water meets the petal; above 90° a drop stands up and overhangs its foot."
    ),
    "ghost": "A second, smeared picture by the room's light, while the flash draws a sharp one.",
}


def term_named(name: str) -> tuple[str, str]:
    """A term and its explanation. LightsimError, with the nearest terms, where there is none of that name."""
    wanted = name.strip().lower()
    for term, words in GLOSSARY.items():
        if wanted == term or (len(wanted) > 2 and wanted in term):
            return term, words
    near = get_close_matches(wanted, list(GLOSSARY), 3, 0.4) or list(GLOSSARY)[:3]
    raise LightsimError(f"glossary: found no term {name!r}, allowed such as {', '.join(near)}")
