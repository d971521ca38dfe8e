"""How far the floor line is from a receptacle: advice for whoever moves one.

Rule: NEC 2023 210.52(A)(1) and (2), or the locally adopted equivalent: no point along the floor line of a wall space
2 ft or wider may be more than 6 ft from a receptacle; doorways and similar openings break the line; a receptacle more
than 5 ft 6 in above the floor does not count. Local code and the authority having jurisdiction decide.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from itertools import accumulate, pairwise
from typing import NamedTuple

from capture.record import EndKind, Kind
from capture.survey import WallSurvey
from layout.exact import plan_length
from layout.openings import door_openings
from layout.stretches import Stretch, without

REACH = Fraction(72)  # inches; 210.52(A)(1)
LEAST_SPACE = Fraction(24)  # inches; 210.52(A)(2)(1), measured round corners
HIGHEST = Fraction(66)  # inches; 210.52 opening text, item (4)


@dataclass(frozen=True)
class TooFar:
    """A place on the floor line that is too far from every receptacle of its wall space."""

    at: Fraction  # wall inches
    distance: Fraction | None  # to the nearest receptacle, inches; None where there is none

    @property
    def over(self) -> Fraction | None:
        """By how much it is beyond 6 ft, inches."""
        return None if self.distance is None else self.distance - REACH


def receptacle_spacing(
    spaces: Iterable[tuple[Fraction, Fraction]], receptacles: Iterable[tuple[Fraction, Fraction]]
) -> tuple[TooFar, ...]:
    """The worst place of each stretch of floor line that is too far from a receptacle.

    Parameters
    ----------
    spaces
        Left and right of each wall space, inches along the floor line, measured round corners.
    receptacles
        Place along the same line and height above the floor of each receptacle's centre, inches.

    Returns
    -------
    tuple of TooFar
        Left to right; empty where the rule holds.
    """
    counted = sorted(place for place, height in receptacles if height <= HIGHEST)
    return tuple(
        worst
        for left, right in spaces
        if right - left >= LEAST_SPACE
        for worst in _worst_places(left, right, [place for place in counted if left <= place <= right])
        if worst.distance is None or worst.distance > REACH
    )


def _how_bad(far: "FarPlace") -> tuple[bool, Fraction]:
    distance = far.distance or Fraction(0)
    return not far.unless and distance > REACH, distance


def _worst_places(left: Fraction, right: Fraction, places: list[Fraction]) -> Iterator[TooFar]:
    if not places:
        yield TooFar((left + right) / 2, None)
        return
    yield TooFar(left, places[0] - left)
    for one, other in pairwise(places):
        yield TooFar((one + other) / 2, (other - one) / 2)
    yield TooFar(right, right - places[-1])


# The floor line of a whole room.

BREAKS = (EndKind.CASING, EndKind.OPEN)  # ends at which the floor line stops


@dataclass(frozen=True)
class FarPlace:
    """A place on a room's floor line that is too far from every receptacle of its wall space."""

    wall: str
    at: Fraction  # wall inches
    distance: Fraction | None  # as for `TooFar`
    unless: str = ""  # where a receptacle that is not in the plan may serve it; "" is nowhere
    before: Fraction | None = field(default=None, compare=False)  # `distance` as things stand


@dataclass(frozen=True)
class Reached:
    """How far a wall space's floor line is from a receptacle at its worst place, within the rule or not."""

    walls: tuple[str, ...]  # that it lies on, in order
    length: Fraction  # inches along the floor line
    worst: FarPlace


class _Space(NamedTuple):
    left: Fraction
    right: Fraction
    open_left: bool  # goes on beyond, nobody knows how far
    open_right: bool
    ring: bool = False  # all round the room, without an opening


class _Unknown(NamedTuple):
    """A stretch of floor line on which receptacles may stand that are not in the plan."""

    left: Fraction
    right: Fraction
    where: str


class FloorLine:
    """The floor line round a room, from the left end of its first wall."""

    def __init__(self, surveys: Sequence[WallSurvey]) -> None:
        known = [survey for survey in surveys if survey.width is not None and survey.width.value > 0]
        widths = [plan_length(survey.width) for survey in known if survey.width is not None]
        self.length = sum(widths, Fraction(0))
        starts = accumulate(widths[:-1], initial=Fraction(0)) if widths else ()
        self.starts = {survey.name: start for survey, start in zip(known, starts, strict=True)}
        self.surveys = known
        ends = {survey.name: self.starts[survey.name] + width for survey, width in zip(known, widths, strict=True)}
        # The stretches of walls on which nobody has marked anything.
        self.bare = {s.name: (self.starts[s.name], ends[s.name]) for s in known if not s.features}
        self._counted = dict(self._receptacles())
        self._keeping = cache(self._kept_from)  # all windows of a box ask for the same
        self.spaces = list(self._spaces(dict(zip((s.name for s in known), widths, strict=True)), list(surveys)))

    def too_far(self, moved: tuple[str, str, Fraction] | None = None) -> list[FarPlace]:
        """The worst places, with one receptacle moved: its wall, its name, and its new place in wall inches.

        Of the spaces that a move touches only, for those beyond stay as they are.
        """
        counted, touched = dict(self._counted), list[Fraction]()
        if moved is not None:
            wall, name, place = moved
            old, height = counted[wall, name]
            new = self.starts[wall] + place
            counted[wall, name] = new, height
            touched = [at + round_the_room for at in (old, new) for round_the_room in (Fraction(0), self.length)]
        # Each also once round the room further on.
        twice = [(at + more, height) for at, height in counted.values() for more in (Fraction(0), self.length)]
        spaces = (s for s in self.spaces if moved is None or any(s.left <= at <= s.right for at in touched))
        return [worst for space in spaces for worst in self._worst(space, twice)]

    def kept(self, wall: str, name: str, left: Fraction, right: Fraction) -> list[Stretch]:
        """The parts of a stretch of a wall, inches, in which a receptacle may stand and leave the line kept as it is.

        Left out is where a place that is served now would surely be too far; what is too far already does not count.
        """
        parts = ((max(left, low), min(right, high)) for low, high in self._keeping(wall, name))
        return sorted((low, high) for low, high in parts if low < high)

    def keeps(self, wall: str, name: str, at: Fraction) -> bool:
        """Whether a receptacle leaves the line kept as it is when it stands at a place of its wall; as for `kept`."""
        return any(low <= at <= high for low, high in self._keeping(wall, name))

    def _kept_from(self, wall: str, name: str) -> list[Stretch]:
        """Wall inches from which a receptacle serves all that it alone surely serves now."""
        alone, space = self._alone(wall, name)
        if space is None or not alone:
            return [(-self.length, 2 * self.length)]
        start = self.starts[wall]
        low, high = max(space.left, alone[-1][1] - REACH) - start, min(space.right, alone[0][0] + REACH) - start
        return [(low + lap, high + lap) for lap in self._laps]

    def _alone(self, wall: str, name: str) -> tuple[list[Stretch], _Space | None]:
        """What a receptacle serves and surely no other does, left to right, and its wall space.

        On a side on which the line is too far from a receptacle already, nothing counts.
        """
        at, height = self._counted.get((wall, name), (Fraction(0), HIGHEST + 1))
        space = self._around(at) if height <= HIGHEST else None
        if space is None:
            return [], None
        others = [place for key, (place, high) in self._counted.items() if key != (wall, name) and high <= HIGHEST]
        points = [(place, place) for place in self._within(space, others)]
        served = [(low - REACH, high + REACH) for low, high in (*points, *(u[:2] for u in self._unknown(space)))]
        left, right = at - REACH, at + REACH
        kept_left = left <= space.left or any(low < left <= high for low, high in served)
        kept_right = right >= space.right or any(low <= right < high for low, high in served)
        alone = [(max(space.left, left) if kept_left else at, min(space.right, right) if kept_right else at)]
        for low, high in served:
            alone = list(without(alone, low, high))
        return [(low, high) for low, high in alone if low < high], space

    def _unknown(self, space: _Space) -> Iterator[_Unknown]:
        """Where receptacles may stand that are not in the plan: beyond open ends, and on walls without a mark."""
        corner = "round a corner that was not measured"
        if space.open_left:
            yield _Unknown(space.left, space.left, corner)
        if space.open_right:
            yield _Unknown(space.right, space.right, corner)
        for name, (start, end) in self.bare.items():
            for low, high in ((start + lap, end + lap) for lap in self._laps):
                if space.ring or (low < space.right and space.left < high):
                    yield _Unknown(low, high, f"on “{name}” (nothing is marked there)")

    @property
    def _laps(self) -> tuple[Fraction, Fraction, Fraction]:
        """A place of the floor line is the same as that one round of the room before, and after."""
        return -self.length, Fraction(0), self.length

    def _within(self, space: _Space, places: Iterable[Fraction]) -> list[Fraction]:
        return [at + lap for at in places for lap in self._laps if space.left <= at + lap <= space.right]

    def _around(self, at: Fraction) -> _Space | None:
        """The wall space that has a place, a ring as a round to each side of it; None where the rule asks nothing."""
        for space in self.spaces:
            if space.ring:
                whole = space._replace(left=at - self.length, right=at + self.length)
                return whole if self.length > 2 * REACH else None  # a smaller one is all in reach from anywhere
            for lap in self._laps:
                if space.left <= at + lap <= space.right:
                    there = space._replace(left=space.left - lap, right=space.right - lap)
                    return there if space.right - space.left >= LEAST_SPACE else None
        return None

    def _worst(self, space: _Space, receptacles: list[tuple[Fraction, Fraction]]) -> Iterator[FarPlace]:
        for worst in receptacle_spacing([self._bounds(space, receptacles)], receptacles):
            yield replace(self._far(worst, space), before=self._distance(worst.at, space))

    def _distance(self, at: Fraction, space: _Space) -> Fraction | None:
        """From a place of a wall space to the nearest receptacle as things stand; None where it has none."""
        whole = space._replace(left=at - self.length, right=at + self.length) if space.ring else space
        places = self._within(whole, (place for place, height in self._counted.values() if height <= HIGHEST))
        return min((abs(place - at) for place in places), default=None)

    def farthest(self) -> list[Reached]:
        """The worst place of every wall space of 2 ft or more as things stand, whether it keeps the rule or not.

        What surely breaks the rule is worse than what another receptacle may serve.
        """
        twice = [(at + more, height) for at, height in self._counted.values() for more in (Fraction(0), self.length)]
        found = []
        for space in self.spaces:
            left, right = self._bounds(space, twice)
            if right - left >= LEAST_SPACE:
                places = sorted(at for at, height in twice if height <= HIGHEST and left <= at <= right)
                each = (self._far(worst, space) for worst in _worst_places(left, right, places))
                found.append(Reached(self._walls(left, right), right - left, max(each, key=_how_bad)))
        return found

    def _bounds(self, space: _Space, counted: Sequence[tuple[Fraction, Fraction]]) -> tuple[Fraction, Fraction]:
        left, right = space[:2]
        if space.ring and (places := [at for at, height in counted if height <= HIGHEST and at <= right]):
            return min(places), min(places) + self.length  # from one receptacle round to the same again
        return left, right

    def _far(self, worst: TooFar, space: _Space) -> FarPlace:
        wall, at = self._on_wall(worst.at, worst.at == space.right)
        return FarPlace(wall, at, worst.distance, self._unless(worst, space))

    def _unless(self, worst: TooFar, space: _Space) -> str:
        """Where receptacles that are not in the plan may serve all that is too far round a place; "" is nowhere."""
        reach = None if worst.distance is None else worst.distance - REACH
        low, high = (space.left, space.right) if reach is None else (worst.at - reach, worst.at + reach)
        if not space.ring:
            low, high = max(low, space.left), min(high, space.right)
        far, by = [(low, high)], list[str]()
        for unknown in self._unknown(space):
            rest = [part for part in without(far, unknown.left - REACH, unknown.right + REACH) if part[0] < part[1]]
            if rest != far:
                far, by = rest, [*by, unknown.where]
        return "" if far else " or ".join(dict.fromkeys(by))

    def _walls(self, left: Fraction, right: Fraction) -> tuple[str, ...]:
        """The walls that a stretch of floor line touches, in order, also where it goes on past the room's start."""
        starts = [*self.starts.items(), *((name, start + self.length) for name, start in self.starts.items())]
        ends = [start for _, start in starts[1:]] + [2 * self.length]
        touched = (name for (name, start), end in zip(starts, ends, strict=True) if start < right and left < end)
        return tuple(dict.fromkeys(touched))

    def _spaces(self, widths: dict[str, Fraction], surveys: list[WallSurvey]) -> Iterator[_Space]:
        """Stretches between door openings, joined round the corners that two walls of the room share."""
        spaces: list[_Space] = []
        for i, survey in enumerate(surveys):
            if survey.name not in widths:
                continue
            stretches = list(_stretches(survey, self.starts[survey.name], widths[survey.name]))
            before = surveys[i - 1] if i else None
            joined = before is not None and before.name in widths and before.right is survey.left not in BREAKS
            if joined and spaces and stretches and spaces[-1].open_right and stretches[0].open_left:
                stretches[0] = _joined(spaces.pop(), stretches[0])
            spaces += stretches
        yield from _closed(spaces, self.length) if self._closes(surveys, widths) else spaces

    @staticmethod
    def _closes(surveys: list[WallSurvey], widths: dict[str, Fraction]) -> bool:
        if len(surveys) < 2 or not {surveys[0].name, surveys[-1].name} <= set(widths):
            return False
        return surveys[-1].right is surveys[0].left not in BREAKS

    def _receptacles(self) -> Iterator[tuple[tuple[str, str], tuple[Fraction, Fraction]]]:
        """Place and height of every receptacle measured, by its wall and name."""
        for survey in self.surveys:
            for feature in survey.features:
                if feature.kind is Kind.RECEPTACLE and feature.across is not None and feature.up is not None:
                    at = self.starts[survey.name] + Fraction(feature.across.value)
                    yield (survey.name, feature.name), (at, Fraction(feature.up.value))

    def _on_wall(self, at: Fraction, ends: bool) -> tuple[str, Fraction]:
        """The wall that has a place of the floor line: where a wall space ends, the wall that it ends on."""
        at = at if at <= self.length else at - self.length
        name = [name for name, start in self.starts.items() if start < at or (start == at and not ends)][-1]
        return name, at - self.starts[name]


def _stretches(survey: WallSurvey, start: Fraction, width: Fraction) -> Iterator[_Space]:
    edges = [Fraction(0), *(edge for opening in door_openings(survey, width) for edge in opening), width]
    for left, right in zip(edges[::2], edges[1::2], strict=True):
        if left < right:
            yield _Space(
                start + left, start + right,
                left == 0 and survey.left not in BREAKS, right == width and survey.right not in BREAKS,
            )  # fmt: skip


def _joined(one: _Space, other: _Space) -> _Space:
    return _Space(one.left, other.right, one.open_left, other.open_right)


def _closed(spaces: list[_Space], length: Fraction) -> Iterator[_Space]:
    """The spaces of a room whose last wall meets its first."""
    if len(spaces) == 1 and spaces[0].open_left and spaces[0].open_right:
        yield _Space(Fraction(0), length, False, False, ring=True)
    elif len(spaces) > 1 and spaces[0].open_left and spaces[-1].open_right:
        yield from spaces[1:-1]
        yield _joined(spaces[-1], spaces[0]._replace(right=spaces[0].right + length))
    else:
        yield from spaces
