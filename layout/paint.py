"""The colour that the wainscot is painted, as a person says it: a word, or the six digits on a paint maker's card."""

import re
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

# Everyday words, as a screen shows them (sRGB, IEC 61966-2-1); invented, no paint maker's.
WORDS = {
    "white": "#f4f3ef",
    "warm white": "#f3eee2",
    "cream": "#efe6cf",
    "light grey": "#d3d4d2",
    "grey": "#a9acab",
    "charcoal": "#4a4d4f",
    "black": "#2b2b2c",
    "sage green": "#a5b09a",
    "dark green": "#3d5145",
    "light blue": "#bccbd4",
    "blue": "#6f8ba0",
    "navy": "#2f3e52",
    "taupe": "#b3a595",
    "red": "#8e3b35",
}
USUAL = "white"
HEX = re.compile(r"#?([0-9a-f]{6})")


def _read(value: object) -> str:
    plain = " ".join(str(value).lower().split()).replace("gray", "grey")
    if plain in WORDS:
        return plain
    if match := HEX.fullmatch(plain):
        return f"#{match[1]}"
    raise ValueError(f"is {', '.join(WORDS)}, or six digits of sRGB such as #e8e4da")


Paint = Annotated[
    str,
    BeforeValidator(_read),
    WithJsonSchema({"type": "string", "description": "a colour in a word, or sRGB such as #e8e4da"}),
]


def srgb_of(paint: str) -> tuple[int, int, int]:
    """Its sRGB values, 0 to 255."""
    digits = WORDS.get(paint, paint).removeprefix("#")
    return int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:], 16)
