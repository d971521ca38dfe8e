"""The planned members as solids: boxes, and mouldings round panels.

Frame: wall (in; x right, y up, z out of the wall).
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from capture.record import EndKind
from layout.frames import Panel, Rect, Role
from layout.plan import WallPlan

Floats = NDArray[np.float32]
MISS = -1e6  # the height over the wall where there is nothing
# Across a panel moulding from its outer edge to the field, height over its thickness: a fillet, a cove, a bead and a
# small step down. Common practice, no source: each maker has his own.
PROFILE_AT = np.array([0.0, 0.1, 0.16, 0.24, 0.36, 0.5, 0.6, 0.66, 0.76, 0.86, 0.94, 1.0])
PROFILE = np.array([0.72, 0.98, 1.0, 0.97, 0.78, 0.6, 0.53, 0.5, 0.56, 0.5, 0.3, 0.04])


@dataclass(frozen=True)
class Box:
    """An upright block on the wall, inches."""

    left: float
    bottom: float
    right: float
    top: float
    back: float
    front: float


@dataclass(frozen=True)
class Ring:
    """The moulding of one panel, mitred, between two rectangles one inside the other; inches."""

    left: float
    bottom: float
    right: float
    top: float
    width: float
    back: float
    thickness: float


@dataclass(frozen=True)
class Solids:
    """All that is built on one wall."""

    boxes: tuple[Box, ...]
    rings: tuple[Ring, ...]

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top of all of it, inches."""
        low = [min(getattr(box, side) for box in self.boxes) for side in ("left", "bottom")]
        high = [max(getattr(box, side) for box in self.boxes) for side in ("right", "top")]
        return low[0], low[1], high[0], high[1]

    @property
    def front(self) -> float:
        """How far the foremost face stands off the wall."""
        return max(box.front for box in self.boxes)


def solids_of(plan: WallPlan, behind: float = 0.0) -> Solids:
    """The solids of a wall's frames, on a sheet of thickness `behind`; they go on into inside corners."""
    boxes, rings = [], []
    for frame in plan.frames:
        boxes += [_box(panel.opening, 0.0, behind) for panel in frame.panels]
        boxes += [_box(m.rect, 0.0, _stands(m.role, behind) + float(m.thickness)) for m in frame.members]
        rings += [ring for panel in frame.panels if (ring := _ring(panel, behind)) is not None]
    return Solids(tuple(_into_corners(boxes, plan)), tuple(rings))


def _into_corners(boxes: list[Box], plan: WallPlan) -> Iterator[Box]:
    """Two walls' frames are planned to touch in a corner; a hair of old wall would show there."""
    first, last = min((b.left for b in boxes), default=0.0), max((b.right for b in boxes), default=0.0)
    survey = plan.survey
    start = min(0.0, first) if survey.left is EndKind.INSIDE_CORNER else first
    end = max(survey.width.value, last) if survey.right is EndKind.INSIDE_CORNER and survey.width else last
    for box in boxes:
        left = start if box.left == first else box.left
        yield replace(box, left=left, right=end if box.right == last else box.right)


def _stands(role: Role, behind: float) -> float:
    return 0.0 if role is Role.BASE else behind  # the sheet stops on the base


def _box(rect: Rect, back: float, front: float) -> Box:
    return Box(float(rect.left), float(rect.bottom), float(rect.right), float(rect.top), back, front)


def _ring(panel: Panel, behind: float) -> Ring | None:
    if panel.moulding is None or not panel.mouldings:
        return None
    outer = panel.moulding
    width, thickness = float(panel.field.left - outer.left), float(panel.mouldings[0].thickness)
    left, bottom, right, top = (float(v) for v in (outer.left, outer.bottom, outer.right, outer.top))
    return Ring(left, bottom, right, top, width, behind, thickness)


def ring_height(ring: Ring, x: Floats, y: Floats) -> Floats:
    """Height of a moulding over the wall at places on it, inches; `MISS` outside it."""
    inside = np.minimum(np.minimum(x - ring.left, ring.right - x), np.minimum(y - ring.bottom, ring.top - y))
    share = inside / ring.width
    height = ring.back + ring.thickness * np.interp(share, PROFILE_AT, PROFILE)
    return np.where((share >= 0) & (share < 1), height, MISS).astype(np.float32)
