"""What stands on what: base, bottom rail, panels in one tier or two, top rail, cap and ledge.

Frame: inches above the finished floor.
"""

from dataclasses import dataclass
from fractions import Fraction

from layout.scheme import Scheme


@dataclass(frozen=True)
class Heights:
    """The level lines of a stretch of wainscot, inches above the floor."""

    bottom: Fraction
    foot: Fraction  # top of the base, on which stiles and bottom rail stand
    tiers: tuple[tuple[Fraction, Fraction], ...]  # bottom and top of the openings, the lower tier first
    head: Fraction  # top of the top rail
    cap: Fraction  # top of the cap
    top: Fraction  # top of the ledge

    @classmethod
    def of(cls, bottom: Fraction, top: Fraction, capped: bool, scheme: Scheme) -> "Heights":
        """The lines of a stretch from `bottom` to `top`; over a window it has no base and a rail like the top one."""
        cap = top - (scheme.ledge if capped else 0)
        head = cap - (scheme.cap if capped else 0)
        foot = bottom + (scheme.base if bottom == 0 else 0)
        low = foot + (scheme.bottom_rail if bottom == 0 else scheme.top_rail)
        return cls(bottom, foot, _tiers(low, head - scheme.top_rail, scheme), head, cap, top)

    @property
    def least_tier(self) -> Fraction:
        """The lowest opening, inches; below 0 where the rails overlap."""
        return min(high - low for low, high in self.tiers)


def _tiers(low: Fraction, high: Fraction, scheme: Scheme) -> tuple[tuple[Fraction, Fraction], ...]:
    """Two where the middle rail leaves room for a panel on both sides, else one."""
    part = scheme.middle_rail_at
    if part and part - scheme.middle_rail - low >= scheme.least_opening and high - part >= scheme.least_opening:
        return (low, part - scheme.middle_rail), (part, high)
    return ((low, high),)


def least_height(bottom: Fraction, capped: bool, scheme: Scheme) -> Fraction:
    """The lowest stretch that holds a panel between two rails, inches from its bottom to its top."""
    low = scheme.base + scheme.bottom_rail if bottom == 0 else scheme.top_rail
    return low + scheme.least_opening + scheme.top_rail + (scheme.head if capped else 0)
