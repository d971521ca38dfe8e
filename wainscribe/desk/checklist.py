"""What the checklist of conditions asks, and the answers that a tap can give: all of them ones that the job keeps."""

from typing import Any

from capture.record import Base, Conditions, Suspect, Wiring
from report.conditions import NAMES, OF_THE_HOUSE, WORDS

CHOICES = {"base": Base, "wiring": Wiring, "paint": Suspect, "compound": Suspect}
LENGTHS = ("casing",)
HOW = {  # readings, and what they are taken with (common practice, no source)
    "flat": ("6 ft straightedge", "8 ft straightedge", "string line"),
    "plumb": ("4 ft level", "6 ft level", "plumb bob", "laser"),
    "level": ("laser", "water level", "6 ft level"),
}
OFFERED = {  # words that need no typing; any others will do
    "material": ("drywall", "plaster on wood lath", "plaster on metal lath", "wood panelling", "masonry"),
    "not_seen": ("behind the furniture", "behind the heater", "inside the wall", "under the wallpaper"),
    "noted": ("stains from water", "damp", "loose plaster", "flaking paint", "cracks"),
}


def _question(key: str) -> dict[str, Any]:
    return {
        "key": key,
        "name": NAMES[key],
        "house": key in OF_THE_HOUSE,
        "choices": [[one.value, WORDS.get(one, one.value)] for one in CHOICES.get(key, ())],
        "how": HOW.get(key, ()),
        "length": key in LENGTHS,
        "offered": OFFERED.get(key, ()),
    }


QUESTIONS = [_question(key) for key in Conditions.model_fields]
