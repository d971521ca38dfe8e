"""What one more reading, photo or card would bring: the survey with the plus-or-minus as it would be then.

A tape reading changes the covariance by a known rule, whatever it will read (the rank-one update of least squares).
A photo is tried out: made up from what is known by now, and the wall adjusted with it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from capture import cards
from capture.adjust import adjust
from capture.beliefs import tape_sd
from capture.camera import Camera
from capture.detect import CardSighting
from capture.equations import card_points
from capture.measure import MeasuredWall
from capture.measured import Measured
from capture.net import Seen
from capture.network import assemble, card_bow, named_columns
from capture.places import FLOOR, LEFT_END, RIGHT_END, named_place
from capture.readout import places_of
from capture.record import TRAITS, Along, Kind, Mark, Shape, Sight, Tape, Wall
from capture.survey import Feature, WallSurvey
from capture.tapes import tape_rows

Array = NDArray[np.float64]

EDGES = ("left", "right", "bottom", "top", "stool", "apron")
FILLED = 0.7  # part of a new photo's frame that what matters takes up
NEAREST = 48.0  # in: no photo is taken from closer by
NEW = "one more photo"
BESIDE = 9.0  # in: a new card's middle from the thing that it is for


@dataclass(frozen=True)
class Proposal:
    """One thing that could be done next, and the survey with the plus-or-minus that it would leave."""

    what: str  # such as “tape from the left end to receptacle 3”
    survey: WallSurvey  # values as now
    tape: tuple[str, str] | None = None  # its two places, where it is a reading


def proposals(wall: Wall, measured: MeasuredWall, about: Sequence[str]) -> list[Proposal]:
    """Tape readings, photos and cards that would make the named features surer.

    Parameters
    ----------
    wall
        As noted.
    measured
        The wall as measured.
    about
        Names of the features whose plus-or-minus matters.

    Returns
    -------
    list of Proposal
        In no order; which is worth most depends on what hangs on it.
    """
    found = [p for tape in _readings(wall, measured, about) if (p := _after_tape(wall, measured, tape)) is not None]
    placed = [n for n in about if _middle(measured.survey.feature(n)) is not None]
    if measured.assembly.seen and placed:
        now = _tried(wall, measured, ())
        for name in placed:
            found += [_after_photo(wall, measured, name, with_card, now) for with_card in (False, True)]
    return found


def _readings(wall: Wall, measured: MeasuredWall, about: Sequence[str]) -> Iterator[Tape]:
    """What a person would tape: from an end or the floor to a thing, and what frames stop at."""
    known = {(frozenset((t.start, t.end)), t.along) for t in wall.tapes if not t.check_only}
    wanted = [(LEFT_END, RIGHT_END, Along.ACROSS)] if wall.width is None else []
    for feature in measured.survey.features:
        if feature.name in about and TRAITS[feature.kind].shape is Shape.RECTANGLE:
            wanted += [(LEFT_END, feature.name, Along.ACROSS), (FLOOR, feature.name, Along.UP)]
        elif feature.kind in (Kind.WINDOW, Kind.CASING_EDGE):
            wanted.append((LEFT_END, feature.name, Along.ACROSS))
    for start, end, along in wanted:
        if (frozenset((start, end)), along) not in known:
            yield Tape(start=start, end=end, length=Fraction(1), along=along)


def _after_tape(wall: Wall, measured: MeasuredWall, tape: Tape) -> Proposal | None:
    solution = measured.solution
    columns = named_columns(solution.net)
    start, end = (named_place(wall, place, solution.net.cards) for place in (tape.start, tape.end))
    forms = [form for place in (start, end) for form in (place.x, place.y) if form is not None]
    if any(name not in columns for form in forms for name in form.terms):
        return None
    rows = tape_rows([(tape, start, end)], columns, solution.slots.size)
    way = rows.forms[0] @ solution.unknowns + rows.shift[0]
    length = float(np.linalg.norm(way))
    a = way / max(length, 1e-9) @ rows.forms[0]
    Qa = solution.covariance @ a
    covariance = solution.covariance - np.outer(Qa, Qa) / (a @ Qa + tape_sd(length) ** 2)
    after = places_of(wall, measured.assembly, replace(solution, covariance=covariance))
    words = f"tape the width of {wall.name}" if tape.end == RIGHT_END else f"tape from the {tape.start} to {tape.end}"
    features, width = after
    return Proposal(words, replace(measured.survey, features=features, width=width), (tape.start, tape.end))


def _after_photo(wall: Wall, measured: MeasuredWall, name: str, with_card: bool, now: "_Spreads") -> Proposal:
    """A photo straight on of one thing and the two cards nearest to it, with a new card beside it or without."""
    spread = _tried(wall, measured, (name,), with_card)
    what = (
        f"stick one more card beside {name} and photograph both" if with_card else f"photograph {name} from closer by"
    )
    around = " with the two cards nearest to it"
    features = tuple(_surer(f, now, spread) for f in measured.survey.features)
    width = _scaled(measured.survey.width, now.get("width"), spread.get("width"))
    return Proposal(what + around, replace(measured.survey, features=features, width=width))


_Spreads = dict[object, Measured]  # by feature and edge, and the width


def _surer(feature: Feature, now: _Spreads, then: _Spreads) -> Feature:
    edges: dict[str, Any] = {
        edge: _scaled(getattr(feature, edge), now.get((feature.name, edge)), then.get((feature.name, edge)))
        for edge in EDGES
    }
    return replace(feature, **edges)


def _scaled(value: Measured | None, now: Measured | None, then: Measured | None) -> Measured | None:
    """A value as sure as it would be: what is known of other walls is not in the trial, so only its gain counts."""
    if value is None or now is None or then is None or then.errors is None or not now.sd or not then.sd:
        return value and replace(value, errors=None)  # held, as where the floor begins
    sd = value.sd * min(1.0, then.sd / now.sd)
    return replace(value, sd=sd, errors=replace(then.errors, form=then.errors.form * (sd / then.sd)))


def _tried(wall: Wall, measured: MeasuredWall, names: tuple[str, ...], with_card: bool = False) -> _Spreads:
    """Standard deviations of a wall adjusted by itself, with one made-up photo of each thing named."""
    seen, marks = list(measured.assembly.seen), list(wall.marks)
    for name in names:
        photo, sights = _made_up(measured, name, with_card)
        seen.append(photo)
        marks = [m.model_copy(update={"sights": (*m.sights, *sights)}) if m.name == name else m for m in marks]
    tried = wall.model_copy(update={"marks": tuple(marks)})
    assembly = assemble(tried, seen, measured.assembly.printed, measured.assembly.lenses)
    features, width = places_of(tried, assembly, adjust(assembly.net, rounds=0))
    spreads: _Spreads = {
        (f.name, edge): value for f in features for edge in EDGES if (value := getattr(f, edge)) is not None
    }
    return spreads | ({"width": width} if width else {})


def _made_up(measured: MeasuredWall, name: str, with_card: bool) -> tuple[Seen, tuple[Sight, ...]]:
    """A photo of one thing as it would be taken, and the sights of the thing in it."""
    solution, feature = measured.solution, measured.survey.feature(name)
    middle = np.array(_middle(feature))
    hung = {n: solution.unknowns[solution.slots.card(i)] for i, n in enumerate(solution.net.cards)}
    near = sorted(hung, key=lambda n: float(np.hypot(*(hung[n][:2] - middle))))[:2]
    corners = [hung[n][:2] + way for n in near for way in ((-5, -6), (5, 6))] + [middle - 5, middle + 5]
    first = measured.assembly.seen[0]
    eye = _stand(np.array(corners), first, solution.camera(first.name).lens)
    places = {n: (hung[n], _bow_at(measured, n)) for n in near}
    if with_card:
        places[max(hung) + 1] = (np.array([middle[0] + BESIDE, middle[1] + 6.0, 0.0]), np.zeros(3))
    scale = solution.unknowns[solution.slots.printed]
    found = []
    for number, (place, bow) in sorted(places.items()):
        pixels = eye.project(card_points(place, scale, cards.saddle_points(), bow)[0])
        found.append(CardSighting(number, np.arange(len(pixels)), pixels, pixels[:4]))
    return Seen(NEW, eye.size, first.focal_35, first.phone, tuple(found), first.turn), _sights(feature, eye)


def _stand(points: Array, like: Seen, lens: Array) -> Camera:
    """A camera square-on to the wall, so far away that the points (N, 2) fill most of its picture."""
    low, high = points.min(axis=0), points.max(axis=0)
    away = max(NEAREST, *(lens[0] * (high - low) / (FILLED * np.array(like.size))))
    centre = np.array([*(low + high) / 2, away])
    R = np.diag([1.0, -1.0, -1.0])
    return Camera.from_matrix(like.size, lens, R, -R @ centre)


def _bow_at(measured: MeasuredWall, number: int) -> Array:
    columns = named_columns(measured.solution.net)
    names = card_bow(number)
    if names[0] not in columns:
        return np.zeros(3)
    return np.array([measured.solution.unknowns[columns[name]] for name in names])


def _middle(feature: Feature) -> tuple[float, float] | None:
    return None if feature.across is None or feature.up is None else (feature.across.value, feature.up.value)


def _sights(feature: Feature, eye: Camera) -> tuple[Sight, ...]:
    """A thing marked in a new photo as it was marked before."""
    mark: Mark = feature.mark
    edges = {e: getattr(feature, e).value for e in ("left", "right", "bottom", "top") if getattr(feature, e)}
    sights = []
    for at in dict.fromkeys(s.at for s in mark.sights if " " in s.at.value):
        upper_lower, left_right = at.value.split()
        pixel = eye.project(np.array([[edges[left_right], edges[upper_lower], float(mark.proud)]]))[0]
        sights.append(Sight(photo=NEW, u=float(pixel[0]), v=float(pixel[1]), at=at))
    return tuple(sights)
