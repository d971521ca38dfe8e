"""What does not fit together: the mistake that explains it best, named in plain words with its likely cause."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from capture.adjust import LEAST_REDUNDANCY, Solution
from capture.hypotheses import LOG_UNLIKELY, UNLIKELY, Mistake, Tested, tested
from capture.leave_out import all_alike, contradicted, explains, leave_out, moves, spoiled
from capture.lengths import MM, Unit, show_length
from capture.places import usual_size
from capture.record import Wall
from capture.survey import Feature, Finding, Grade
from capture.tapes import readings

Array = NDArray[np.float64]
Misreadings = tuple[tuple[float, str], ...]
Show = Callable[[float | Fraction], str]

FEW_CARDS = 2
ALIKE = 1.2  # a tape and the one mark at its end explain a misfit alike; the tape is named, and with it the mark
NO_TELLING = 1.02  # two cards whose moves explain a misfit as well as this: no residual tells which it was
POWER = 0.84  # standard deviations: of errors that much beyond the limit, four in five are noticed
POOR_FIT = 0.3  # px: six times the usual noise of saddle points
SCALE_OFF = 0.015  # a print-out further off than this was fitted to the page
FITTED = (0.9, 1.03)  # and to no more than this: pages are shrunk by 3 to 6 % (common practice); further off is a tape
LEAST_PLATE, LARGEST_PLATE = 0.8, 1.4  # of the standard size: oversize plates are 3 1/2 × 5 1/4 (makers' class), 1.27
# What people misread a tape by, inches, and how (common practice, no source).
MISREADINGS: Misreadings = (
    (12.0, "a foot was miscounted"),
    (1.0, "an inch was miscounted, or the tape was held at its 1 in mark"),
    (0.75, "1/8 was read for 7/8, or the other way about"),
    (0.5, "half an inch was miscounted"),
    (0.25, "a quarter was miscounted"),
)
METRIC_MISREADINGS: Misreadings = (
    (float(1000 * MM), "a metre was miscounted"),
    (float(100 * MM), "100 mm was miscounted, or the tape was held at its 100 mm mark"),
    (float(10 * MM), "a centimetre was miscounted, or the tape was held at its 1 cm mark"),
)


def least_noticed(solution: Solution, row: int, sd: float) -> float | None:
    """The smallest error in a reading that would be noticed, inches; None where nothing checks it.

    The minimal detectable bias: (k + 0.84) sd / √r for a test at k standard deviations that notices four in five.

    References
    ----------
    Baarda (1968), A testing procedure for use in geodetic networks, section 4.
    """
    r = float(solution.redundancy[row])
    return None if r < LEAST_REDUNDANCY else (UNLIKELY + POWER) * sd / sqrt(r)


def suspects(solution: Solution) -> list[Tested]:
    """The mistakes that explain a misfit which chance does not, the likeliest first; none where all is sound."""
    found = [t for t in tested(solution) if t.log_chance < LOG_UNLIKELY]
    if not found:
        return []
    alike = [t for t in found if t.hypothesis.kind is Mistake.TAPE and ALIKE * t.drop >= found[0].drop]
    return [*alike, *(t for t in found if t not in alike)]


def fits_together(solution: Solution) -> bool:
    """Whether nothing on a wall contradicts the rest."""
    return solution.converged and not spoiled(solution) and not suspects(solution)


def doubts(wall: Wall, solution: Solution, features: Sequence[Feature]) -> list[Finding]:
    """What does not fit together on a wall, in the order of how much it matters.

    Parameters
    ----------
    wall
        As noted.
    solution
        Its adjustment.
    features
        What was read off it.
    """
    # Sizes come out odd where something else is wrong: what that is comes first.
    misfits = _misfits(wall, solution) or [odd for f in features for odd in _odd_size(wall, f)]
    found = []
    if not solution.converged and not any(one.grade is Grade.STOP for one in misfits):
        found.append(
            Finding(
                "not-solved", wall.name,
                f"Photos and tape readings of “{wall.name}” do not fit together, so no place on it is sure.",
                "Look at the marks and tape readings, or take the photos again.", Grade.STOP,
            )
        )  # fmt: skip
    if solution.net.shots and len(solution.net.cards) <= FEW_CARDS and not readings(wall):
        found.append(
            Finding(
                "few-cards", wall.name,
                f"“{wall.name}” has few cards and no tape reading to measure by, so its places are rough.",
                "Tape one long distance, or add cards near the ends and take the photo again.",
            )
        )  # fmt: skip
    return [*found, *misfits]


def _misfits(wall: Wall, solution: Solution) -> list[Finding]:
    """What most likely went wrong: the print, the cards, one reading or mark; else which photos fit badly."""
    if (spoiled(solution) or not _printable(solution)) and (wrong := contradicted(solution)):
        return [replace(_tape_disagrees(wall, solution, wrong[0]), grade=Grade.STOP)]
    if spoiled(solution):
        level = all_alike(solution)
        misread = [t for t in suspects(level) if not t.hypothesis.cards and explains(level, t.drop)]
        return _named(wall, level, misread) or list(_cards_left_out(wall, solution)) or list(_poor_fits(solution))
    found = suspects(solution)
    return list(_misprinted(wall, solution, found)) or _named(wall, solution, found)


def _misprinted(wall: Wall, solution: Solution, found: Sequence[Tested]) -> Iterator[Finding]:
    """Cards that were fitted to the page, unless one misread tape explains the scale better."""
    net, scales = solution.net, solution.unknowns[solution.slots.printed]
    strain = float(np.sum((net.print_root @ (scales - net.print_mean)) ** 2))
    tape = max((t.drop for t in found if t.hypothesis.kind is Mistake.TAPE), default=0.0)
    if (
        net.shots
        and np.abs(scales - 1).max() > SCALE_OFF
        and (_printable(solution) or not tape)
        and tape < ALIKE * strain
    ):
        alone = f" If the bar is right, read the {net.tapes.names[0]} again." if len(net.tapes.names) == 1 else ""
        yield Finding(
            "print-scale", wall.name,
            f"The cards on “{wall.name}” seem printed at {float(np.mean(scales)):.1%} of their size.",
            f"Print them again at 100 %, or tape the check bar and enter what it reads.{alone}",
        )  # fmt: skip


def _printable(solution: Solution) -> bool:
    """Whether the cards came out as a printer may make them, at full size or fitted to the page."""
    scales = solution.unknowns[solution.slots.printed]
    return bool(((scales > FITTED[0]) & (scales < FITTED[1])).all())


def _named(wall: Wall, solution: Solution, found: Sequence[Tested]) -> list[Finding]:
    """The likeliest mistake in words; one at a time, since a gross error spoils its neighbours' residuals too."""
    if not found:
        return []
    worst, h = found[0], found[0].hypothesis
    if h.kind is Mistake.TAPE:
        return [_tape_disagrees(wall, solution, worst)]
    if h.kind is Mistake.SIGHT:
        return [_mark_disagrees(wall, solution, worst)]
    alike = [t for t in found if t.hypothesis.kind is h.kind and NO_TELLING * t.drop >= worst.drop]
    numbers = list(dict.fromkeys(t.hypothesis.cards[0] for t in alike))
    if h.kind in WHOLE:
        return [_card_disagrees(wall, worst, numbers)]
    photos = list(dict.fromkeys(solution.net.shots[t.hypothesis.index].name for t in alike))
    return [_moved(numbers, float(np.hypot(*worst.size[:2])), photos)]


def _mark_disagrees(wall: Wall, solution: Solution, worst: Tested) -> Finding:
    off = float(np.linalg.norm(worst.size))
    return Finding(
        "mark-disagrees", wall.name,
        f"The mark of {solution.net.sights.names[worst.hypothesis.index]} lies {off:.0f} pixels from where everything "
        f"else on “{wall.name}” has it.", "Mark it again there, and see that its name is right.",
    )  # fmt: skip


def _tape_disagrees(wall: Wall, solution: Solution, worst: Tested) -> Finding:
    tapes, i = solution.net.tapes, worst.hypothesis.index
    off = float(worst.size[0])
    usual = METRIC_MISREADINGS if _by_metric_tape(float(tapes.length[i])) else MISREADINGS
    by, why = min(usual, key=lambda m: abs(abs(off) - m[0]))
    cause = why if abs(abs(off) - by) < 2 * worst.sd[0] + 1 / 32 and worst.sd[0] < by / 4 else ""
    return _sized(
        "tape-disagrees", wall.name,
        lambda show: f"The {tapes.names[i]}, {show(float(tapes.length[i]))}, disagrees by {show(abs(off))} with "
        f"everything else on “{wall.name}”{f'; perhaps {cause}' if cause else ''}.",
        "Tape it again; if it reads the same, look at the marks at its ends.", subject=tapes.names[i],
    )  # fmt: skip


def _by_metric_tape(length: float) -> bool:
    """Whether a length is whole millimetres and no 1/64 in: what is both is told by inches."""
    whole = [abs(count - round(count)) < 1e-6 for count in (length / float(MM), 64 * length)]
    return whole == [True, False]


def _cards_left_out(wall: Wall, solution: Solution) -> Iterator[Finding]:
    """The cards without which all others fit; where two cards may be it alike, both are named."""
    found = leave_out(solution)
    if not found:
        return
    first = found[0]
    if first.shot < 0:
        trial = [t for t in tested(solution) if t.hypothesis.cards == first.cards and t.hypothesis.kind in WHOLE]
        yield _card_disagrees(wall, max(trial, key=lambda t: t.drop), first.cards)
        return
    photos = list(dict.fromkeys(solution.net.shots[t.shot].name for t in found if t.shot >= 0))
    if len(first.cards) == 2:
        (a, way_a), (b, way_b) = moves(solution, first)
        yield _two_moved(first.solution, (a, b), (way_a, way_b), photos[0])
        return
    numbers = list(dict.fromkeys(t.cards[0] for t in found if t.shot >= 0))
    ((_, way),) = moves(solution, first)
    yield _moved(numbers, float(np.hypot(*way)), photos)


WHOLE = (Mistake.SCALE, Mistake.PROUD)  # what is wrong with a card in all photos


def _card_disagrees(wall: Wall, worst: Tested, numbers: Sequence[int]) -> Finding:
    """A card that stands off, or is of another size."""
    size, subject = float(worst.size[0]), f"card {numbers[0]}"
    which = " or ".join(str(n) for n in numbers)
    if worst.hypothesis.kind is Mistake.SCALE:
        return Finding(
            "card-scale", wall.name,
            f"Card {which} on “{wall.name}” seems printed at {1 + size:.1%} of the others' size.",
            f"See whether it is of another print run; print it again with the others, or set card {which} aside.",
            subject=subject,
        )  # fmt: skip
    return _sized(
        "card-proud", wall.name,
        lambda show: f"Card {which} seems to hang {show(abs(size))} {'off' if size > 0 else 'behind'} the face of "
        f"“{wall.name}”.",
        f"Stick it on the wall itself, not on a door, casing or loose paper, or set card {which} aside.",
        subject=subject,
    )  # fmt: skip


def _moved(numbers: Sequence[int], far: float, photos: Sequence[str]) -> Finding:
    which = " or ".join(str(n) for n in numbers)
    other = f"“{photos[1]}”" if len(photos) == 2 else "the other photos"
    return _sized(
        "card-moved", photos[0],
        lambda show: f"Card {which} moved by {show(far)} between “{photos[0]}” and {other}.",
        f"If it slipped or was stuck again, take the photos again, or set card {which} aside in one of them.",
        subject=f"card {numbers[0]}",
    )  # fmt: skip


def _two_moved(without: Solution, numbers: tuple[int, int], ways: tuple[Array, Array], photo: str) -> Finding:
    """Whether each of two cards went to where the other hangs."""
    a, b = (without.unknowns[without.slots.card(without.net.cards.index(n))][:2] for n in numbers)
    misses = np.linalg.norm([ways[0] - (b - a), ways[1] - (a - b)], axis=1)
    what = "changed places" if misses.max() < np.linalg.norm(b - a) / 4 else "both moved"
    return Finding(
        "cards-moved", photo,
        f"Cards {numbers[0]} and {numbers[1]} seem to have {what} before “{photo}” was taken.",
        "Take the photo again, or set both aside in it.", subject=f"card {numbers[0]} and card {numbers[1]}",
    )  # fmt: skip


def _poor_fits(solution: Solution) -> Iterator[Finding]:
    """Photos whose cards do not fit together: one that moved between photos, or does not lie flat.

    Two cards that moved against each other both disagree; no residual tells which of them it was.
    """
    labels = np.array(solution.labels)
    for shot in solution.net.shots:
        if shot.corner_sd > POOR_FIT:
            v = solution.residuals[labels == f"corner in {shot.name}"]
            numbers = np.repeat([c.number for c in shot.cards], [2 * len(c.which) for c in shot.cards])
            square = {c.number: float(np.mean(v[numbers == c.number] ** 2)) for c in shot.cards}
            worst = " and ".join(str(n) for n, s in square.items() if s > max(square.values()) / 2)
            yield Finding(
                "poor-fit", shot.name,
                f"The cards in “{shot.name}” miss their places by {shot.corner_sd:.1f} pixels, above all card {worst}.",
                "See that they lie flat and did not move between photos; take the photo again.",
            )  # fmt: skip


def _odd_size(wall: Wall, feature: Feature) -> Iterator[Finding]:
    """A plate that no maker sells: its corners were marked on something else."""
    usual = usual_size(feature.mark)
    edges = (feature.left, feature.right, feature.bottom, feature.top)
    if usual is None or None in edges or feature.mark.width is not None:
        return
    left, right, bottom, top = (edge.value for edge in edges if edge is not None)
    for side, seen, common in (("wide", right - left, usual[0]), ("high", top - bottom, usual[1])):
        if not LEAST_PLATE * common <= seen <= LARGEST_PLATE * common:
            yield _sized("odd-size", wall.name, partial(_odd, wall, feature, seen, side, common),
                         "Mark the corners of its plate again, or tape it and give its size.")  # fmt: skip
            return


def _odd(wall: Wall, feature: Feature, seen: float, side: str, common: float, show: Show) -> str:
    return (
        f"{feature.name} on “{wall.name}” comes out {show(seen)} {side}; "
        f"a plate of {feature.mark.gangs} gang is {show(common)}, an oversize one up to a third more."
    )


def _sized(code: str, place: str, words: Callable[[Show], str], remedy: str, subject: str = "") -> Finding:
    """A warning whose sentence has lengths in it."""
    inches, mm = (words(partial(show_length, unit=unit)) for unit in (Unit.INCH, Unit.MM))
    return Finding(code, place, inches, remedy, subject=subject, in_mm=mm)
