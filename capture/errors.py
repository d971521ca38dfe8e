"""The one tree of errors that a person may read.

Every message is one plain sentence: what is wrong, where, and what to do.
"""

from difflib import get_close_matches


class PlainError(Exception):
    """Something a person can put right; its text is shown as it stands."""

    def told(self, unit: str) -> str:
        """The sentence with its lengths in a unit, "in" or "mm", where it can tell them in either."""
        return str(self)


class UnknownNameError(PlainError, LookupError):
    """A name that the job does not hold; the nearest known one is offered."""

    def __init__(self, what: str, name: str, known: list[str]) -> None:
        near = get_close_matches(name, known, n=1, cutoff=0.5)
        if near:
            hint = f"did you mean “{near[0]}”?"
        elif known:
            hint = "known: " + ", ".join(known[:8]) + ("…" if len(known) > 8 else "") + "."
        else:
            hint = "there is none yet."
        self.what, self.near = what, bool(near)
        super().__init__(f"No {what} is called “{name}”; {hint}")
