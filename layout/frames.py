"""Exact places of every member: cap, rails, stiles, and the moulding of every panel.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor; shown faces.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from layout.runs import Run
from layout.scheme import Scheme
from layout.spacing import best_count, equal_panels, positions


class Role(StrEnum):
    """What a member is."""

    CAP = "cap"
    TOP_RAIL = "top rail"
    BOTTOM_RAIL = "bottom rail"
    END_STILE = "end stile"
    STILE = "stile"
    MOULDING = "moulding"


@dataclass(frozen=True)
class Rect:
    """An upright rectangle on the wall, inches."""

    left: Fraction
    bottom: Fraction
    right: Fraction
    top: Fraction

    @property
    def width(self) -> Fraction:
        """Across, inches."""
        return self.right - self.left

    @property
    def height(self) -> Fraction:
        """Up, inches."""
        return self.top - self.bottom

    def inset(self, by: Fraction) -> "Rect":
        """The rectangle `by` inches inside this one on all sides."""
        return Rect(self.left + by, self.bottom + by, self.right - by, self.top - by)

    def overlaps(self, other: "Rect") -> bool:
        """Whether they share more than an edge."""
        return (
            self.left < other.right and other.left < self.right and self.bottom < other.top and other.bottom < self.top
        )

    def contains(self, other: "Rect") -> bool:
        """Whether the other lies inside, touching allowed."""
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.bottom <= other.bottom
            and other.top <= self.top
        )


@dataclass(frozen=True)
class Member:
    """One piece of the frame as it is seen; what is hidden behind a neighbour is told by its run."""

    name: str  # unique on its wall
    role: Role
    rect: Rect
    thickness: Fraction  # out of the wall, without what lies behind it


@dataclass(frozen=True)
class Panel:
    """An opening between members, with its moulding."""

    name: str
    opening: Rect
    moulding: Rect | None  # the moulding's outer edge
    field: Rect  # what is clear inside the moulding
    mouldings: tuple[Member, ...]


@dataclass(frozen=True)
class Frame:
    """The wainscot of one run."""

    run: Run
    count: int
    panel_width: Fraction
    members: tuple[Member, ...]  # mouldings are with their panels
    panels: tuple[Panel, ...]

    @property
    def rect(self) -> Rect:
        """All that it covers."""
        return Rect(self.run.left, self.run.bottom, self.run.right, self.run.top)

    @property
    def stiles(self) -> tuple[Member, ...]:
        """All stiles, left to right, the end ones too."""
        return tuple(member for member in self.members if member.role in (Role.END_STILE, Role.STILE))


def spoken(name: str) -> str:
    """A member's name within a sentence: “stile 2”, “the bottom rail”."""
    return name if name.startswith("stile") else f"the {name}"


def build_frames(runs: Sequence[Run], scheme: Scheme) -> tuple[Frame, ...]:
    """The frames of one wall's runs; stiles and panels are numbered across the wall."""
    frames: list[Frame] = []
    for run in runs:
        panels_before = sum(frame.count for frame in frames)
        frames.append(build_frame(run, scheme, panels_before=panels_before, stiles_before=panels_before + len(frames)))
    return tuple(frames)


def build_frame(
    run: Run, scheme: Scheme, count: int | None = None, *, panels_before: int = 0, stiles_before: int = 0
) -> Frame:
    """Every member of a run with equal panels.

    End stiles stand from the floor to the cap; rails run between them, inner stiles between the rails.

    Parameters
    ----------
    run
        The stretch to fill.
    scheme
        The sizes wanted.
    count
        How many panels; None takes `best_count`.
    panels_before, stiles_before
        How many stand to the left of this run on its wall, for the numbering.

    Returns
    -------
    Frame
        Exact rectangles, wall inches.

    Raises
    ------
    FrameFitError
        The panels do not fit.
    """
    count = best_count(run, scheme) if count is None else count
    width = equal_panels(run.width, count, scheme.stile)
    lefts = positions(run.left, count, scheme.stile, width)
    head = run.top - (scheme.cap if run.capped else 0)
    low, high = run.bottom + scheme.bottom_rail, head - scheme.top_rail
    stiles = []
    for i, left in enumerate(lefts):
        at_end = i in (0, count)
        rect = Rect(left, run.bottom if at_end else low, left + scheme.stile, head if at_end else high)
        role = Role.END_STILE if at_end else Role.STILE
        stiles.append(Member(f"stile {stiles_before + i + 1}", role, rect, scheme.thickness))
    openings = (Rect(left + scheme.stile, low, left + scheme.stile + width, high) for left in lefts[:-1])
    panels = tuple(_panel(f"panel {panels_before + i + 1}", opening, scheme) for i, opening in enumerate(openings))
    return Frame(run, count, width, (*_level_members(run, scheme, head), *stiles), panels)


def _level_members(run: Run, scheme: Scheme, head: Fraction) -> tuple[Member, ...]:
    part = f" {run.part}" if run.part else ""
    inner_left, inner_right = run.left + scheme.stile, run.right - scheme.stile
    top = Rect(inner_left, head - scheme.top_rail, inner_right, head)
    bottom = Rect(inner_left, run.bottom, inner_right, run.bottom + scheme.bottom_rail)
    rails = (
        Member(f"top rail{part}", Role.TOP_RAIL, top, scheme.thickness),
        Member(f"bottom rail{part}", Role.BOTTOM_RAIL, bottom, scheme.thickness),
    )
    if not (run.capped and scheme.cap):
        return rails
    cap = Rect(run.left, head, run.right, run.top)
    return (Member(f"cap{part}", Role.CAP, cap, scheme.thickness + scheme.cap_projection), *rails)


def _panel(name: str, opening: Rect, scheme: Scheme) -> Panel:
    if not scheme.moulding:
        return Panel(name, opening, None, opening, ())
    outer, field = opening.inset(scheme.reveal), opening.inset(scheme.border)
    sides = {
        "left": Rect(outer.left, outer.bottom, field.left, outer.top),
        "right": Rect(field.right, outer.bottom, outer.right, outer.top),
        "bottom": Rect(outer.left, outer.bottom, outer.right, field.bottom),
        "top": Rect(outer.left, field.top, outer.right, outer.top),
    }
    mouldings = tuple(
        Member(f"moulding of {name}, {side}", Role.MOULDING, rect, scheme.moulding_thickness)
        for side, rect in sides.items()
    )
    return Panel(name, opening, outer, field, mouldings)
