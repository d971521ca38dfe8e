"""Where rails, base and cap longer than the stock are joined: in line with a stile, where the eye expects a joint."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from capture.errors import PlainError
from layout.frames import Frame, Member, Role
from layout.scheme import Scheme

LEVEL = (Role.CAP, Role.TOP_RAIL, Role.MIDDLE_RAIL, Role.BOTTOM_RAIL, Role.BASE)


class StockError(PlainError, ValueError):
    """A member longer than the stock that cannot be joined."""


@dataclass(frozen=True)
class RailJoint:
    """A joint in a level member."""

    member: str
    stile: str  # in whose middle line it lies
    at: Fraction  # wall inches


def rail_joints(frame: Frame, scheme: Scheme) -> Iterator[RailJoint]:
    """The fewest joints, from the left, that cut every level member into pieces that the stock holds.

    Parameters
    ----------
    frame
        Of one run.
    scheme
        Its `stock_length`; 0 is long enough for all.

    Raises
    ------
    StockError
        Two stiles stand further apart than the stock is long.
    """
    if not scheme.stock_length:
        return
    places = [((stile.rect.left + stile.rect.right) / 2, stile.name) for stile in frame.stiles[1:-1]]
    for member in frame.members:
        if member.role in LEVEL:
            yield from _joints(member, places, frame.run.name, scheme)


def _joints(member: Member, places: list[tuple[Fraction, str]], run: str, scheme: Scheme) -> Iterator[RailJoint]:
    start, end, ahead = member.rect.left, member.rect.right, list(places)
    while end - start > scheme.stock_length:
        reached = [place for place in ahead if place[0] - start <= scheme.stock_length]
        if not reached:
            apart = (ahead[0][0] if ahead else end) - start
            raise StockError(
                f"The {member.name} of “{run}” has no stile to be joined behind for {scheme.show(apart)}, and "
                f"the stock is {scheme.show(scheme.stock_length)} long, "
                f"{scheme.show(apart - scheme.stock_length)} less; take longer stock or more panels."
            )
        at, stile = reached[-1]
        yield RailJoint(member.name, stile, at)
        start, ahead = at, ahead[len(reached) :]
