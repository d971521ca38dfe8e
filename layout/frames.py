"""Exact places of every member: base, rails, stiles, cap, ledge, fillers, and the moulding of every panel.

Frame: the wall's inches, x to the right from its left end, y up from the finished floor; shown faces.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from layout.heights import Heights
from layout.runs import Run
from layout.scheme import Scheme
from layout.spacing import Spacing, best_count, shown_pieces, space


class Role(StrEnum):
    """What a member is."""

    CAP = "cap"  # and the ledge: what stands proud of the faces
    TOP_RAIL = "top rail"
    MIDDLE_RAIL = "middle rail"
    BOTTOM_RAIL = "bottom rail"
    BASE = "base"
    FILLER = "filler"
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
    spacing: Spacing
    members: tuple[Member, ...]  # mouldings are with their panels
    panels: tuple[Panel, ...]  # the lower tier left to right, then the upper one
    plane: Rect  # what lies in one plane: stiles, rails and fillers with their panels
    sheet: Rect | None = None  # what covers the wall behind the frame, where it does

    @property
    def count(self) -> int:
        """How many panels stand side by side."""
        return self.spacing.count

    @property
    def panel_width(self) -> Fraction:
        """The width of its panels before any nudge, inches; of the widest where they are not equal."""
        return max(self.spacing.panels)

    @property
    def rect(self) -> Rect:
        """All that it covers."""
        return _covered(self.run, self.run.bottom, self.run.top)

    @property
    def stiles(self) -> tuple[Member, ...]:
        """The stiles side by side, left to right, the end ones too; those of an upper tier stand over them."""
        roles = (Role.END_STILE, Role.STILE)
        standing = [m for m in self.members if m.role in roles and not m.name.startswith(UPPER)]
        return tuple(sorted(standing, key=lambda member: member.rect.left))

    @property
    def middles(self) -> list[Fraction]:
        """Middle lines of the stiles between the end ones, wall inches: where joints and seams hide."""
        return [(stile.rect.left + stile.rect.right) / 2 for stile in self.stiles[1:-1]]

    def shown_across(self, step: Fraction) -> tuple[Fraction, ...]:
        """Widths of stile, panel, stile, ... from the left, in whole steps that add up to the shown run; inches."""
        edges = [edge for stile in self.stiles for edge in (stile.rect.left, stile.rect.right)]
        return shown_pieces([right - left for left, right in pairwise(edges)], step)


UPPER = "upper"  # how names of the upper tier start


def spoken(name: str) -> str:
    """A member's name within a sentence: “stile 2”, “the bottom rail”."""
    return name if name.removeprefix(f"{UPPER} ").startswith("stile") else f"the {name}"


def build_frames(runs: Sequence[Run], scheme: Scheme, spacings: Sequence[Spacing] | None = None) -> tuple[Frame, ...]:
    """The frames of one wall's runs; stiles and panels are numbered across the wall.

    Parameters
    ----------
    runs
        Of one wall, left to right.
    scheme
        The sizes wanted.
    spacings
        How each run is divided; None divides each by `best_count`.
    """
    if spacings is None:
        spacings = [space(run, scheme, best_count(run, scheme)) for run in runs]
    frames: list[Frame] = []
    for run, spacing in zip(runs, spacings, strict=True):
        before = sum(frame.count for frame in frames)
        frames.append(frame_of(run, scheme, spacing, panels_before=before, stiles_before=before + len(frames)))
    return tuple(frames)


def build_frame(run: Run, scheme: Scheme, count: int | None = None) -> Frame:
    """Every member of a run on its own, in `count` panels; None takes `best_count`.

    Raises
    ------
    FrameFitError
        The panels do not fit.
    """
    return frame_of(run, scheme, space(run, scheme, best_count(run, scheme) if count is None else count))


def frame_of(run: Run, scheme: Scheme, spacing: Spacing, *, panels_before: int = 0, stiles_before: int = 0) -> Frame:
    """Every member of a run divided as told.

    End stiles stand from the base to the cap; rails run between them, inner stiles between the rails.

    Parameters
    ----------
    run
        The stretch to fill.
    scheme
        The sizes wanted.
    spacing
        Where its stiles stand.
    panels_before, stiles_before
        How many stand to the left of this run on its wall, for the numbering.

    Returns
    -------
    Frame
        Exact rectangles, wall inches.
    """
    heights = run.heights(scheme)
    members = (*_level_members(run, scheme, heights), *_stiles(scheme, spacing, heights, stiles_before))
    panels = tuple(
        _panel(f"{tier}panel {panels_before + i + 1}", opening, scheme)
        for tier, row in zip(TIERS, openings_of(scheme, spacing, heights), strict=False)
        for i, opening in enumerate(row)
    )
    flush = scheme.base_thickness == scheme.build_up
    plane = _covered(run, heights.bottom if flush else heights.foot, heights.head)
    sheet = _covered(run, heights.foot, heights.head) if scheme.panel == "sheet" else None
    return Frame(run, spacing, members, panels, plane, sheet)


def _covered(run: Run, bottom: Fraction, top: Fraction) -> Rect:
    return Rect(run.left - run.left_end.filler, bottom, run.right + run.right_end.filler, top)


TIERS = ("", f"{UPPER} ")


def openings_of(scheme: Scheme, spacing: Spacing, heights: Heights) -> tuple[tuple[Rect, ...], ...]:
    """The openings between the members, left to right, tier by tier from below; wall inches."""
    widths = (scheme.outer_stile, *(scheme.stile,) * (spacing.count - 1))
    across = [(left + width, right) for (left, right), width in zip(pairwise(spacing.lefts), widths, strict=True)]
    return tuple(tuple(Rect(left, low, right, high) for left, right in across) for low, high in heights.tiers)


def _stiles(scheme: Scheme, spacing: Spacing, heights: Heights, before: int) -> Iterator[Member]:
    last = spacing.count
    for tier, (low, high) in zip(TIERS, heights.tiers, strict=False):
        for i, left in enumerate(spacing.lefts):
            name = f"{tier}stile {before + i + 1}"
            if i not in (0, last):
                yield Member(name, Role.STILE, Rect(left, low, left + scheme.stile, high), scheme.thickness)
            elif not tier:
                rect = Rect(left, heights.foot, left + scheme.outer_stile, heights.head)
                yield Member(name, Role.END_STILE, rect, scheme.thickness)


def _level_members(run: Run, scheme: Scheme, heights: Heights) -> Iterator[Member]:
    """From above: ledge, cap, rails, base; and the fillers at casings. What is nothing is left out."""
    part = f" {run.part}" if run.part else ""
    whole, inner = (
        _covered(run, heights.bottom, heights.top),
        (run.left + scheme.outer_stile, run.right - scheme.outer_stile),
    )
    across = whole.left, whole.right
    proud, flat = scheme.thickness, scheme.thickness
    rails = [(low, high) for (_, low), (high, _) in pairwise(heights.tiers)]
    lines = [
        ("ledge", Role.CAP, across, heights.cap, heights.top, proud + scheme.ledge_projection),
        ("cap", Role.CAP, across, heights.head, heights.cap, proud + scheme.cap_projection),
        ("top rail", Role.TOP_RAIL, inner, heights.tiers[-1][1], heights.head, flat),
        *(("middle rail", Role.MIDDLE_RAIL, inner, low, high, flat) for low, high in rails),
        ("bottom rail", Role.BOTTOM_RAIL, inner, heights.foot, heights.tiers[0][0], flat),
        ("base", Role.BASE, across, heights.bottom, heights.foot, scheme.base_thickness),
        ("left filler", Role.FILLER, (whole.left, run.left), heights.foot, heights.head, flat),
        ("right filler", Role.FILLER, (run.right, whole.right), heights.foot, heights.head, flat),
    ]
    for name, role, (left, right), low, high, thickness in lines:
        if high > low and right > left:
            yield Member(f"{name}{part}", role, Rect(left, low, right, high), thickness)


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
