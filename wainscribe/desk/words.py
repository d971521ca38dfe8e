"""What a browser sent, checked at the door: each value of the kind it should be, or one sentence."""

from collections.abc import Mapping
from typing import Any

from wainscribe.actions import ActionError

Given = Mapping[str, Any]

LONGEST = 4000  # letters


def text(given: Given, key: str, usual: str | None = None) -> str:
    """Text; the usual one where it is missing, or null."""
    value = given.get(key)
    if value is None and usual is not None:
        return usual
    if not isinstance(value, str) or len(value) > LONGEST:
        raise ActionError(f"“{key}” must be text; load the page again.")
    return value


def texts(given: Given, key: str) -> dict[str, str]:
    """A group of named texts; null counts as ""."""
    value = given.get(key)
    if not isinstance(value, dict):
        raise ActionError(f"“{key}” must be a group of named values; load the page again.")
    return {str(name): text(value, name, "") for name in value}


def groups(given: Given, key: str) -> list[dict[str, Any]]:
    """A list of groups of named values; none where it is missing."""
    value = given.get(key) or []
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        raise ActionError(f"“{key}” must be a list of groups of named values; load the page again.")
    return value


def flag(given: Given, key: str) -> bool:
    """True or false; false where it is missing."""
    value = given.get(key, False)
    if not isinstance(value, bool):
        raise ActionError(f"“{key}” must be true or false; load the page again.")
    return value


def whole_number(given: Given, key: str) -> int:
    """A whole number."""
    value = given.get(key)
    if not isinstance(value, int) or isinstance(value, bool) or abs(value) > 10**9:
        raise ActionError(f"“{key}” must be a whole number; load the page again.")
    return value


def points(given: Given, key: str) -> list[list[float]]:
    """One to a hundred pairs of numbers."""
    value = given.get(key)
    pairs = isinstance(value, list) and 1 <= len(value) <= 100 and all(map(_is_pair, value))
    if not pairs or not isinstance(value, list):
        raise ActionError(f"“{key}” must be pairs of numbers; load the page again.")
    return value


def _is_pair(value: object) -> bool:
    return (
        isinstance(value, list) and len(value) == 2 and all(isinstance(n, int | float) and abs(n) < 1e6 for n in value)
    )
