"""The frame before the solve: photos joined through the cards they share, then set on the wall's end and floor."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import log

import cv2
import numpy as np
from numpy.typing import NDArray

from capture.adjust import Solution, adjust
from capture.beliefs import DATUM_SD, lens_belief, print_belief
from capture.camera import LENS, POSE, meet_plane
from capture.net import CORNER_SD, Coordinates, Linear, Net, Seen, Shot, Sights
from capture.record import TRAITS, Kind, Mark, PrintRun, Shape, Side, Sight, Wall
from capture.start import APART, FITS, Stand, first_stand, joined_stand, judge, lean, moved, other_way
from capture.survey import CARD_ELSEWHERE, Finding, Grade
from capture.tapes import ORIGIN, Ends, follow, tape_rows

Array = NDArray[np.float64]

ASKEW = np.radians(5.0)  # five times how far an arrow is off by eye: beyond it a card was stuck some other way up
WRONG = 1.0  # px RMS: twenty times the usual noise of saddle points
NEARLY = 2.0  # in RMS: what misses by more does not come in by a better lens
OTHER_LENSES = (1.4, 2.0, 0.6)  # of the main lens's focal length: cropped, twice and wide (common practice, no source)
FARTHEST = 1200.0  # in: a sight further off than 100 ft is not on this wall


def join_photos(seen: Sequence[Seen]) -> tuple[dict[str, Stand], list[Finding]]:
    """First poses in the frame of one card; a photo that shares no card with the others is left out and named."""
    if not seen:
        return {}, []
    datum = min(c.number for s in seen for c in s.cards)
    order = sorted(seen, key=lambda s: (all(c.number != datum for c in s.cards), -len(s.cards)))
    # A photo into a corner may start with the wrong wall: where photos are left over, another is tried first.
    attempts = (_joined_from(first, order) for first in order)
    stands = next(attempts)
    if len(stands) < len(order):
        stands = max(
            (stands, *attempts), key=lambda found: (len(found), sum(len(s.stand.places) for s in found.values()))
        )
    surest = {s.name: _surest(stands[s.name]) for s in order if s.name in stands}
    findings = [_unjoined(s.name) for s in order if s.name not in stands]
    findings += [_two_ways(name) for name, (_, sure) in surest.items() if not sure]
    return {name: stand for name, (stand, _) in surest.items()}, findings


@dataclass(frozen=True)
class _Alone:
    """A photo by itself, and the stand it starts from."""

    seen: Seen
    stand: Stand

    @cached_property
    def solution(self) -> Solution:
        """Solved with the cards that the stand explains."""
        return adjust(_lone_net(self.seen, self.stand), rounds=0)

    @property
    def misfit(self) -> float:
        """How far, px RMS, these cards miss their places once it is solved."""
        residuals = self.solution.residuals
        return CORNER_SD * float(np.sqrt(residuals @ residuals / self.solution.redundancy.sum()))


def _joined_from(first: Seen, order: Sequence[Seen]) -> dict[str, _Alone]:
    """Stands of all photos that join a first one, in the frame of its lowest-numbered card."""
    datum = min(c.number for c in first.cards)
    start = max((first_stand(first.cards, lens, datum) for lens in _lenses(first)), key=_explained)
    stands = {first.name: _settled(first, start)} if start.places else {}
    waiting = [s for s in order if s is not first] if stands else []
    while waiting:
        known = {n: p for alone in stands.values() for n, p in alone.stand.places.items()}
        joined = {s.name: _settled(s, stand) for s in waiting if (stand := _joined(s, known))}
        if not joined:
            break
        stands |= joined
        waiting = [s for s in waiting if s.name not in stands]
    return stands


def _joined(seen: Seen, known: dict[int, Array]) -> Stand | None:
    stands = [stand for lens in _lenses(seen) if (stand := joined_stand(seen.cards, lens, known))]
    return max(stands, key=_explained, default=None)


def _explained(stand: Stand) -> int:
    return len(stand.places)


def _lenses(seen: Seen) -> list[Array]:
    """Lenses to try, the likeliest first: where no tag tells the focal length, a phone's other ones too."""
    mean = _lens(seen)
    return [mean * (factor, 1, 1, 1, 1) for factor in ((1.0,) if seen.focal_35 else (1.0, *OTHER_LENSES))]


def _settled(seen: Seen, stand: Stand) -> _Alone:
    """The stand after a solve of this photo alone, in the same frame, as long as that brings in more of its cards.

    The first pose comes from a single card and a lens by guess, too rough to judge a card at the wall's far end: what
    does not fit at first is tried in the solve too, and stays only if it fits then.
    """
    for fits in (FITS, NEARLY):
        while stand.strangers:
            tried = replace(stand, places=judge(stand.pose, seen.cards, stand.lens, fits).places | stand.places)
            solution = _Alone(seen, tried).solution
            lens, pose = solution.unknowns[solution.slots.lens(0)], solution.unknowns[solution.slots.pose(0)]
            better = judge(pose, seen.cards, lens)
            if not set(better.places) > set(stand.places):
                break
            stand = better
    return _purged(_Alone(seen, stand))


def _purged(alone: _Alone) -> _Alone:
    """The photo without a card of another wall that came in by chance: seen at a slant, it may look like one of this.

    Once the photo is solved alone, the cards of one wall fit to a part of a pixel, whatever the lens.
    """
    while len(places := alone.stand.places) > 2 and alone.misfit > WRONG:
        tried = {out: replace(alone.stand, places={n: p for n, p in places.items() if n != out}) for out in places}
        without = {out: _Alone(alone.seen, stand) for out, stand in tried.items()}
        gone = min(without, key=lambda out: without[out].misfit)
        if without[gone].misfit > alone.misfit / 2:
            break
        strangers = tuple(sorted({*alone.stand.strangers, gone}))
        alone = _Alone(alone.seen, replace(tried[gone], strangers=strangers))
    return alone


def _surest(alone: _Alone) -> tuple[Stand, bool]:
    """The likelier of the two poses that the cards of a photo leave open, and whether it is surely the right one.

    The two differ by Δ in their squared residuals over the corners' variance; it takes Δ = 2 ln 1000 to call the one a
    thousand times as likely as the other.
    """
    stand = alone.stand
    other = other_way(stand, alone.seen.cards)
    if other is None:
        return stand, True
    solutions = [alone.solution, _Alone(alone.seen, other).solution]
    squares = [float(s.residuals @ s.residuals) for s in solutions]
    poses = [s.unknowns[s.slots.pose(0)] for s in solutions]
    if lean(*poses) < APART:
        return stand, True  # both starts lead to the same
    noise = max(1.0, min(squares) / float(solutions[0].redundancy.sum()))
    sure = abs(squares[0] - squares[1]) > 2 * log(1000) * noise
    return (other if squares[1] < squares[0] else stand), sure


def _lone_net(seen: Seen, stand: Stand) -> Net:
    """One photo and the cards that its stand explains, the lowest-numbered card held where it is."""
    numbers = tuple(sorted(stand.places))
    lens_mean, lens_sd = lens_belief(seen.size, seen.focal_35)
    print_mean, print_root = print_belief(PrintRun())
    cards = tuple(c for c in seen.cards if c.number in stand.places)
    nothing = np.zeros(0)
    first_card = LENS + POSE
    size = first_card + 3 * len(numbers) + 2
    return Net(
        shots=(Shot(seen.name, seen.size, 0, cards, stand.pose),),
        lens_mean=lens_mean[None],
        lens_sd=lens_sd[None],
        cards=numbers,
        card_start=np.array([stand.places[n] for n in numbers]),
        print_mean=print_mean,
        print_root=print_root,
        coordinates=Coordinates((), nothing, nothing, nothing),
        sights=Sights((), np.zeros(0, np.intp), np.zeros((0, 2)), nothing, np.zeros((0, 3, 0)), np.zeros((0, 3))),
        tapes=tape_rows([], {}, size),
        linear=Linear(np.eye(size)[first_card : first_card + 3], stand.places[numbers[0]], np.full(3, DATUM_SD)),
    )


def _lens(seen: Seen) -> Array:
    return lens_belief(seen.size, seen.focal_35)[0]


def upright(stands: dict[str, Stand]) -> tuple[dict[str, Stand], tuple[int, ...]]:
    """The stands in the frame of the lowest-numbered card whose arrow agrees with most, and the cards that disagree.

    Cards stuck on their side or upside down must not turn the wall. Where as many arrows say one thing as another,
    the way up of the photos decides.
    """
    arrows = card_places(stands)
    if not arrows:
        return stands, ()
    photos_up = float(np.angle(sum(np.exp(1j * _picture_up(s)) for s in stands.values())))

    def agree(angle: float) -> list[int]:
        return [n for n, p in arrows.items() if abs(_turn(p[2], angle)) <= ASKEW]

    best = max((p[2] for p in arrows.values()), key=lambda a: (len(agree(a)), -abs(_turn(a, photos_up))))
    datum = arrows[min(agree(best))]
    astray = tuple(sorted(set(arrows) - set(agree(best))))
    return {name: moved(s, datum) for name, s in stands.items()}, astray


def card_places(stands: dict[str, Stand]) -> dict[int, Array]:
    """Where each card hangs by the first photo that shows it, (3,) each, by number."""
    places: dict[int, Array] = {}
    for stand in stands.values():
        places = stand.places | places
    return dict(sorted(places.items()))


def _picture_up(stand: Stand) -> float:
    """The angle in the wall of what is up in the picture, turned as cards are."""
    down = np.asarray(cv2.Rodrigues(stand.pose[:3])[0], float)[1]
    return float(np.arctan2(down[0], -down[1]))


def _turn(a: float, b: float) -> float:
    """From angle `b` to angle `a`, the short way round."""
    return float(np.angle(np.exp(1j * (a - b))))


def with_usable_sights(wall: Wall, seen: Sequence[Seen], stands: dict[str, Stand]) -> tuple[Wall, list[Finding]]:
    """The wall with the sights that a joined photo has on it; one that shows no place on the wall is named."""
    joined = [m.model_copy(update={"sights": tuple(s for s in m.sights if s.photo in stands)}) for m in wall.marks]
    marks, findings = [], []
    for mark, points in zip(joined, rough_points(joined, seen, stands), strict=True):
        shown = [_shows(s, p, seen, stands) for s, p in zip(mark.sights, points, strict=True)]
        missed = dict.fromkeys(s.photo for s, good in zip(mark.sights, shown, strict=True) if not good)
        findings += [_missed(mark, photo) for photo in missed if TRAITS[mark.kind].shape is not Shape.OUTLINE]
        sights = tuple(s for s, good in zip(mark.sights, shown, strict=True) if good)
        marks.append(mark.model_copy(update={"sights": sights}))
    return wall.model_copy(update={"marks": tuple(marks)}), findings


def _shows(sight: Sight, point: Array, seen: Sequence[Seen], stands: dict[str, Stand]) -> bool:
    """Whether a sight lies in its picture, and meets the wall in front of the camera and not absurdly far."""
    stand, size = stands[sight.photo], next(s.size for s in seen if s.name == sight.photo)
    if not (-0.5 <= sight.u <= size[0] - 0.5 and -0.5 <= sight.v <= size[1] - 0.5):
        return False
    R = np.asarray(cv2.Rodrigues(stand.pose[:3])[0], float)
    away = R @ point + stand.pose[3:]
    return bool(np.isfinite(point).all() and away[2] > 1.0 and np.linalg.norm(away) < FARTHEST)


def _missed(mark: Mark, photo: str) -> Finding:
    return Finding(
        "mark-off-wall", photo, f"“{mark.name}” as marked in “{photo}” lies nowhere on this wall, so it was left out.",
        "Mark it again.",
    )  # fmt: skip


def origin_by(
    wall: Wall, seen: Sequence[Seen], stands: dict[str, Stand], known: dict[str, float], ends: Ends
) -> tuple[float | None, float | None]:
    """Where the wall's left end and its floor lie in the frame of the stands, roughly; None where nothing tells.

    The left end as marked, else as tape readings lead there; the floor at the first floor point, else by tape.
    """
    left = [m for m in wall.marks if m.kind is Kind.WALL_END and m.side is Side.LEFT]
    ends_seen = [float(point[0]) for points in rough_points(left, seen, stands) for point in points]
    x = float(np.mean(ends_seen)) if ends_seen else follow(ends, "x", known).get(ORIGIN)
    up = follow(ends, "y", known)
    floors = [up[f"{m.name}/up"] for m in wall.marks if m.kind is Kind.FLOOR_POINT and f"{m.name}/up" in up]
    return x, floors[0] if floors else up.get(ORIGIN)


def rough_points(marks: Sequence[Mark], seen: Sequence[Seen], stands: dict[str, Stand]) -> list[Array]:
    """Roughly where each mark's sights meet the wall, (N, 3) inches each, in the frame of the stands."""
    sights = [(sight.photo, sight.u, sight.v, float(mark.proud)) for mark in marks for sight in mark.sights]
    photos = np.array([photo for photo, *_ in sights])
    numbers = np.array([rest for _, *rest in sights]).reshape(-1, 3)
    points = np.zeros((len(sights), 3))
    for photo in seen:
        mine = photos == photo.name
        if mine.any():
            pose = stands[photo.name].pose
            with np.errstate(all="ignore"):  # a ray that misses the wall comes out as no number
                points[mine] = meet_plane(_lens(photo), pose, numbers[mine, :2], numbers[mine, 2])
    ends = np.cumsum([0, *(len(mark.sights) for mark in marks)])
    return [points[first:end] for first, end in pairwise(ends)]


def frame_findings(
    wall: Wall, stands: dict[str, Stand], anchored: tuple[bool, bool], astray: tuple[int, ...]
) -> list[Finding]:
    """What a person should know of how the photos came into the wall's frame."""
    findings = [_stranger(photo, n) for photo, stand in stands.items() for n in stand.strangers]
    findings += [_astray(wall, n) for n in astray]
    findings += [_sideways(photo) for photo, s in stands.items() if abs(_picture_up(s)) > np.pi / 4]
    if any(m.sights and TRAITS[m.kind].shape is not Shape.OUTLINE for m in wall.marks):
        missing = (("no-left-end", "left end", "across"), ("no-floor", "floor", "up"))
        findings += [_unanchored(wall, *words) for words, held in zip(missing, anchored, strict=True) if not held]
    return findings


def _unanchored(wall: Wall, code: str, place: str, way: str) -> Finding:
    return Finding(
        code, wall.name, f"The {place} of “{wall.name}” is not known, so all places {way} it are counted from a card.",
        f"Mark the {place} in a photo, or tape from the {place} to something that a photo shows.", Grade.STOP,
    )  # fmt: skip


def _stranger(photo: str, number: int) -> Finding:
    return Finding(
        CARD_ELSEWHERE, photo, f"Card {number} in “{photo}” does not lie flat in this wall, so it was left out.",
        "That is right for a card on another wall; otherwise stick it flat.", subject=f"card {number}",
    )  # fmt: skip


def _astray(wall: Wall, number: int) -> Finding:
    return Finding(
        "arrow-astray", wall.name,
        f"The arrow of card {number} on “{wall.name}” points another way than the others, so it was not used.",
        "That harms nothing; stick cards with the arrow up.", Grade.NOTE,
    )  # fmt: skip


def _sideways(photo: str) -> Finding:
    return Finding(
        "photo-sideways", photo, f"In “{photo}” the cards' arrows do not point up.",
        "If the photo stands upright, stick the cards with their arrows up and take it again.",
    )  # fmt: skip


def _two_ways(photo: str) -> Finding:
    return Finding(
        "two-ways", photo,
        f"The cards in “{photo}” are too small to tell which of two ways the camera looked at the wall.",
        "Take it again from closer, or with more cards in it; until then tape what is measured in it.",
    )  # fmt: skip


def _unjoined(photo: str) -> Finding:
    return Finding(
        "photo-not-joined", photo, f"“{photo}” shares no card with the other photos of this wall, so it was left out.",
        "Take one more photo that shows a card of each.",
    )  # fmt: skip
