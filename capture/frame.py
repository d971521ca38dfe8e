"""The frame before the solve: photos joined through the cards they share, then set on the wall's end and floor."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from capture.adjust import adjust
from capture.beliefs import DATUM_SD, lens_belief, print_belief
from capture.camera import LENS, POSE, meet_plane
from capture.net import Coordinates, Linear, Net, Seen, Shot, Sights, Tapes
from capture.places import FLOOR, LEFT_END
from capture.record import Kind, Mark, PrintRun, Sight, Wall
from capture.start import Stand, first_stand, joined_stand, judge, moved
from capture.survey import Finding

Array = NDArray[np.float64]


def join_photos(seen: Sequence[Seen]) -> tuple[dict[str, Stand], list[Finding]]:
    """First poses in the frame of one card; a photo that shares no card with the others is left out and named."""
    if not seen:
        return {}, []
    datum = min(c.number for s in seen for c in s.cards)
    order = sorted(seen, key=lambda s: (all(c.number != datum for c in s.cards), -len(s.cards)))
    stands = {order[0].name: _settled(order[0], first_stand(order[0].cards, _lens(order[0]), datum))}
    waiting = order[1:]
    while waiting:
        known = {n: p for stand in stands.values() for n, p in stand.places.items()}
        joined = {s.name: _settled(s, stand) for s in waiting if (stand := joined_stand(s.cards, _lens(s), known))}
        if not joined:
            break
        stands |= joined
        waiting = [s for s in waiting if s.name not in stands]
    return stands, [_unjoined(s.name) for s in waiting]


def _settled(seen: Seen, stand: Stand) -> Stand:
    """The stand after a solve of this photo alone, in the same frame, as long as that brings in more of its cards.

    The first pose comes from a single card and a lens by guess, too rough to judge a card at the wall's far end.
    """
    while stand.strangers:
        solution = adjust(_lone_net(seen, stand), rounds=0)
        lens, pose = solution.unknowns[solution.slots.lens(0)], solution.unknowns[solution.slots.pose(0)]
        better = judge(pose, seen.cards, lens)
        if len(better.places) <= len(stand.places):
            break
        stand = better
    return stand


def _lone_net(seen: Seen, stand: Stand) -> Net:
    """One photo and the cards that its stand explains, the lowest-numbered card held where it is."""
    numbers = tuple(sorted(stand.places))
    lens_mean, lens_sd = lens_belief(seen)
    print_mean, print_sd = print_belief(PrintRun())
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
        print_sd=print_sd,
        coordinates=Coordinates((), nothing, nothing, nothing),
        sights=Sights(np.zeros(0, np.intp), np.zeros((0, 2)), nothing, np.zeros((0, 3, 0)), np.zeros((0, 3))),
        tapes=Tapes((), nothing, nothing, np.zeros((0, 2, size)), np.zeros((0, 2))),
        linear=Linear(np.eye(size)[first_card : first_card + 3], stand.places[numbers[0]], np.full(3, DATUM_SD)),
    )


def _lens(seen: Seen) -> Array:
    return lens_belief(seen)[0]


def in_wall_frame(
    wall: Wall, seen: Sequence[Seen], stands: dict[str, Stand]
) -> tuple[dict[str, Stand], tuple[bool, bool]]:
    """The stands in the wall frame, roughly, and whether an end and a floor hold it there."""
    rough = {}
    for mark in wall.marks:
        for nth, sight in enumerate(mark.sights):
            if sight.photo in stands:
                photo = next(s for s in seen if s.name == sight.photo)
                pixel = np.array([[sight.u, sight.v]])
                rough[mark.name, nth] = meet_plane(_lens(photo), stands[sight.photo].pose, pixel, float(mark.proud))[0]
    x = _rough_left(wall, rough)
    y = _mean([p[1] for (name, _), p in rough.items() if _kind(wall, name) is Kind.FLOOR_POINT])
    y = _rough_by_tape(wall, rough, FLOOR, 1) if y is None else y
    origin = np.array([x or 0.0, y or 0.0, 0.0])
    return {name: moved(s, origin) for name, s in stands.items()}, (x is not None, y is not None)


def _rough_left(wall: Wall, rough: dict[tuple[str, int], Array]) -> float | None:
    ends = {m.name: m.side for m in wall.marks if m.kind is Kind.WALL_END}
    left = _mean([p[0] for (name, _), p in rough.items() if ends.get(name) == "left"])
    right = _mean([p[0] for (name, _), p in rough.items() if ends.get(name) == "right"])
    if left is None and right is not None and wall.width is not None:
        return right - float(wall.width)
    return _rough_by_tape(wall, rough, LEFT_END, 0) if left is None else left


def _rough_by_tape(wall: Wall, rough: dict[tuple[str, int], Array], origin: str, axis: int) -> float | None:
    """Where the frame's origin lies if it was taped to something that is seen."""
    for tape in wall.tapes:
        other = tape.end if tape.start == origin else tape.start if tape.end == origin else None
        if other and not tape.check_only:
            seen = _mean([p[axis] for (name, _), p in rough.items() if name == other])
            if seen is not None:
                return seen - float(tape.length)
    return None


def _mean(values: list[float]) -> float | None:
    return float(np.mean(values)) if values else None


def _kind(wall: Wall, name: str) -> Kind:
    return next(m.kind for m in wall.marks if m.name == name)


def rough_point(mark: Mark, sight: Sight, seen: Sequence[Seen], stands: dict[str, Stand]) -> Array:
    """Roughly where a sight meets the wall, (3,) inches in the frame of the stands."""
    photo = next(s for s in seen if s.name == sight.photo)
    pixel = np.array([[sight.u, sight.v]])
    return np.asarray(meet_plane(_lens(photo), stands[sight.photo].pose, pixel, float(mark.proud))[0])


def _unjoined(photo: str) -> Finding:
    return Finding(
        "photo-not-joined", photo, f"“{photo}” shares no card with the other photos of this wall, so it was left out.",
        "Take one more photo that shows a card of each.",
    )  # fmt: skip
