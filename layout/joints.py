"""Level members from end to end: how far past the run they reach, how they end, and where long ones are joined.

A joint lies in line with a stile, where the eye expects one: behind it for a rail, over it for a cap, a scarf.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from capture.errors import PlainError
from capture.lengths import nearest
from layout.bevels import SQUARE, inside, wedge
from layout.ends import RunEnd, Stop
from layout.frames import Frame, Member, Role
from layout.pieces import SQUARE_CUT, CutKind, EndCut
from layout.scheme import Scheme

HALF_SQUARE = SQUARE / 2
LEVEL = (Role.CAP, Role.TOP_RAIL, Role.MIDDLE_RAIL, Role.BOTTOM_RAIL, Role.BASE)
SCARFED = (Role.CAP, Role.BASE)  # what is seen along its edge; rails are butted


Longest = Mapping[Role, Fraction] | Fraction | None
"""What the longest board gives, inches: of all members or by their role; None takes the scheme's `stock_length`."""


class JointError(PlainError, ValueError):
    """A member longer than its stock, with no place for a joint."""


class LongEnd(NamedTuple):
    """One end of a level member: where its long point lies, wall inches, and its cut."""

    at: Fraction
    cut: EndCut


@dataclass(frozen=True)
class RailJoint:
    """A joint in a level member."""

    member: str
    stile: str  # in whose middle line it lies
    at: Fraction  # wall inches


def rail_joints(frame: Frame, scheme: Scheme, longest: Longest = None) -> Iterator[RailJoint]:
    """All joints that cut the level members of a run into lengths that the stock gives.

    Parameters
    ----------
    frame
        Of one run.
    scheme
        The sizes wanted.
    longest
        As for `lengths_of`.

    Raises
    ------
    JointError
        Two places for a joint lie further apart than the stock is long, or a stile is longer than it.
    """
    check_stiles(frame, scheme, longest)
    for member in frame.members:
        if member.role in LEVEL:
            for start, _ in lengths_of(frame, member, scheme, longest)[1:]:
                yield RailJoint(member.name, stile_at(frame, start).name, start)


def check_stiles(frame: Frame, scheme: Scheme, longest: Longest = None) -> None:
    """Refuse stiles longer than the stock, for nobody joins a stile; parameters as for `lengths_of`."""
    tallest = max(frame.stiles, key=lambda stile: stile.rect.height)
    limit = _limit(tallest.role, scheme, longest)
    if limit and tallest.rect.height > limit:
        raise JointError(
            f"{tallest.name[:1].upper()}{tallest.name[1:]} of “{frame.run.name}” is {scheme.show(tallest.rect.height)} "
            f"long in one piece and the longest board gives {scheme.show(limit)}, "
            f"{scheme.show(tallest.rect.height - limit)} less; take longer stock."
        )


def _limit(role: Role, scheme: Scheme, longest: Longest) -> Fraction:
    """What the longest board gives for a member; 0 is long enough."""
    given = longest.get(role) if isinstance(longest, Mapping) else longest
    return given or scheme.stock_length


def lengths_of(
    frame: Frame, member: Member, scheme: Scheme, longest: Longest = None
) -> list[tuple[Fraction, Fraction]]:
    """Where each length of a level member starts and ends, from the middle of one joint to that of the next.

    The fewest that can be, and of these the ones of which the longest is shortest. Joints lie whole steps of the scheme
    from the left end, within half a step of a stile's middle line, so that shown lengths add up to the shown whole.

    Parameters
    ----------
    frame, member
        Of one run.
    scheme
        The sizes wanted.
    longest
        What the longest board gives, inches, of all members or by role; None takes the scheme's `stock_length`.

    Returns
    -------
    list of tuple
        Wall inches, left to right.

    Raises
    ------
    JointError
        The stock is too short, and no stile stands where a joint could hide.
    """
    (left, _), (right, _) = long_ends(frame, member, scheme)
    whole = right - left
    limit = _limit(member.role, scheme, longest) or whole
    if whole <= limit:
        return [(left, right)]
    if member.role in SCARFED:
        limit -= scarf(member)
    middles = [left + nearest(middle - left, scheme.step) for middle in frame.middles]
    places = [left, *(x for x in middles if left < x < right), right]
    widest = max(b - a for a, b in pairwise(places))
    if widest > limit:
        raise JointError(
            f"The {member.name} of “{frame.run.name}” is {scheme.show(whole)} long, and two places for a joint lie "
            f"{scheme.show(widest)} apart, {scheme.show(widest - limit)} more than the longest board gives "
            f"({scheme.show(limit)}); take longer stock or narrower panels."
        )
    return _fewest(places, limit)


def _fewest(places: Sequence[Fraction], limit: Fraction) -> list[tuple[Fraction, Fraction]]:
    """The fewest spans between places, none over the limit; and of these the ones of which the longest is shortest."""

    @cache
    def best(i: int) -> tuple[int, Fraction, tuple[Fraction, ...]]:
        """From place i on: how many spans, the longest of them, and where they end."""
        if i == len(places) - 1:
            return 0, Fraction(0), ()
        options = []
        for j in range(i + 1, len(places)):
            if places[j] - places[i] <= limit:
                count, longest, ends = best(j)
                options.append((count + 1, max(longest, places[j] - places[i]), (places[j], *ends)))
        return min(options)

    return list(pairwise((places[0], *best(0)[2])))


def stile_at(frame: Frame, x: Fraction) -> Member:
    """The stile over which a joint lies."""
    return next(stile for stile in frame.stiles if stile.rect.left < x < stile.rect.right)


def scarf(member: Member) -> Fraction:
    """How far the two lengths of a scarf at 45° lap each other, inches: as far as the member is thick."""
    return member.rect.height if member.role is Role.CAP else member.thickness


# How level members end.


def long_ends(frame: Frame, member: Member, scheme: Scheme) -> tuple[LongEnd, LongEnd]:
    """Both ends of a level member: rails between the end stiles, base and cap from corner to corner."""
    run = frame.run
    left, right = (_long_end(end, member, scheme) for end in (run.left_end, run.right_end))
    return LongEnd(member.rect.left - left.at, left.cut), LongEnd(member.rect.right + right.at, right.cut)


def _long_end(end: RunEnd, member: Member, scheme: Scheme) -> LongEnd:
    """The same with its place told from the run's shown end, outwards."""
    if member.role is Role.CAP:
        return _cap_end(end, depth_of(member, scheme), scheme)
    return _base_end(end, member.thickness) if member.role is Role.BASE else LongEnd(Fraction(0), SQUARE_CUT)


def depth_of(cap: Member, scheme: Scheme) -> Fraction:
    """From the wall to a cap's front edge, inches."""
    return cap.thickness + scheme.build_up - scheme.thickness


def _cap_end(end: RunEnd, depth: Fraction, scheme: Scheme) -> LongEnd:
    """Mitred at corners, returned at an open end."""
    if end.corner:
        level = replace(end.corner, thickness=depth, behind=Fraction(0))
        return LongEnd(level.reach + end.inset, EndCut(CutKind.MITRE, level.bevel, "front"))
    if end.stop is Stop.INSIDE_CORNER:
        return LongEnd(end.inset, EndCut(CutKind.MITRE, SQUARE - end.angle / 2, "back"))
    if end.stop is Stop.OPEN:
        return LongEnd(depth - scheme.build_up, EndCut(CutKind.MITRE, HALF_SQUARE, "front", "returned to the wall"))
    return LongEnd(Fraction(0), SQUARE_CUT)


def _base_end(end: RunEnd, thickness: Fraction) -> LongEnd:
    """Bevelled round an outside corner; at an inside one the first runs into it and the second is coped to its face."""
    if end.corner:
        flat = replace(end.corner, thickness=thickness, behind=Fraction(0))
        return LongEnd(flat.reach + end.inset, EndCut(CutKind.BEVEL, flat.bevel, "face"))
    if end.stop is not Stop.INSIDE_CORNER:
        return LongEnd(Fraction(0), SQUARE_CUT)
    if end.first:
        return LongEnd(end.inset - wedge(thickness, end.angle), SQUARE_CUT)
    return LongEnd(end.inset - inside(thickness, end.angle), EndCut(CutKind.COPE))
