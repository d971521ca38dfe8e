"""How a thing at a known place meets the planned frames: pure geometry, no doubt in it.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor; floats, for places on the
wall are measured.
"""

import math
from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from layout.frames import Frame, Rect

TOUCH = 1e-9  # inches: floats that should be equal


class Verdict(StrEnum):
    """How a thing on the wall and the planned frame meet."""

    CLEAR = "clear"
    TIGHT = "tight"
    STRIKES_MOULDING = "strikes the moulding"
    SPLIT = "split by a member"
    WHOLE = "sits whole on a member"
    TOO_CLOSE = "too close to tell"

    @property
    def conflict(self) -> bool:
        """Whether somebody has to decide something."""
        return self not in (Verdict.CLEAR, Verdict.TIGHT)


class Box(NamedTuple):
    """An upright rectangle as measured, inches."""

    left: float
    bottom: float
    right: float
    top: float

    @classmethod
    def of(cls, rect: Rect) -> "Box":
        """A planned rectangle in floats."""
        return cls(float(rect.left), float(rect.bottom), float(rect.right), float(rect.top))

    def gaps(self, other: "Box") -> tuple[float, float, float, float]:
        """How far the other's left, bottom, right and top edge stay off this box; only the largest tells."""
        return other.left - self.right, other.bottom - self.top, self.left - other.right, self.bottom - other.top

    def room(self, other: "Box") -> tuple[float, float, float, float]:
        """How far the other's left, bottom, right and top edge stay inside this box; only the smallest tells."""
        return other.left - self.left, other.bottom - self.bottom, self.right - other.right, self.top - other.top

    def shared(self, other: "Box") -> float:
        """The area that both cover, square inches."""
        across = min(self.right, other.right) - max(self.left, other.left)
        up = min(self.top, other.top) - max(self.bottom, other.bottom)
        return max(0.0, across) * max(0.0, up)


class Outline(NamedTuple):
    """A frame reduced to what a verdict depends on."""

    whole: Box
    plane: Box  # the frame's one plane: all but the cap, which stands proud of it, and a base of another thickness
    openings: tuple[Box, ...]
    fields: tuple[Box, ...]


def outline(frame: Frame) -> Outline:
    """What a verdict needs of a frame."""
    return Outline(
        Box.of(frame.rect),
        Box.of(frame.plane),
        tuple(Box.of(panel.opening) for panel in frame.panels),
        tuple(Box.of(panel.field) for panel in frame.panels),
    )


def verdict_at(plate: Box, outlines: Sequence[Outline], clear: float) -> Verdict:
    """The verdict on a plate whose place is known exactly.

    Parameters
    ----------
    plate
        Wall inches.
    outlines
        All frames of its wall.
    clear
        The clear field wanted round a plate, inches.

    Returns
    -------
    Verdict
        Any but too close to tell.
    """
    near = [frame for frame in outlines if max(frame.whole.gaps(plate)) < -TOUCH]
    if not near:
        gap = min((max(frame.whole.gaps(plate)) for frame in outlines), default=math.inf)
        return Verdict.CLEAR if gap >= clear - TOUCH else Verdict.TIGHT
    cut_opening = False
    for frame in near:
        for opening, field in zip(frame.openings, frame.fields, strict=True):
            if max(opening.gaps(plate)) >= -TOUCH:
                continue
            if min(opening.room(plate)) < -TOUCH:
                cut_opening = True
            elif (room := min(field.room(plate))) < -TOUCH:
                return Verdict.STRIKES_MOULDING
            else:
                return Verdict.CLEAR if room >= clear - TOUCH else Verdict.TIGHT
    on_wood = sum(frame.plane.shared(plate) for frame in near)
    area = (plate.right - plate.left) * (plate.top - plate.bottom)
    return Verdict.SPLIT if cut_opening or on_wood < area * (1 - 1e-9) else Verdict.WHOLE


def nearest_frame(plate: Box, frames: Sequence[Frame]) -> Frame:
    """The frame a plate stands in, or the one nearest to it."""
    return min(frames, key=lambda frame: max(Box.of(frame.rect).gaps(plate)))
