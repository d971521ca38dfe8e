"""What does not fit together: the mistake that explains it best, named in plain words with its likely cause."""

from collections.abc import Iterator, Sequence
from math import sqrt

import numpy as np

from capture.adjust import LEAST_REDUNDANCY, Solution
from capture.hypotheses import LOG_UNLIKELY, UNLIKELY, Hypothesis, Mistake, Tested, tested
from capture.lengths import show_length
from capture.places import usual_size
from capture.record import Wall
from capture.survey import Feature, Finding, Grade

FEW_CARDS = 2
ALIKE = 1.2  # a tape and the one mark at its end explain a misfit alike; the tape is named, and with it the mark
NO_TELLING = 1.02  # two cards whose moves explain a misfit as well as this: no residual tells which it was
POWER = 0.84  # standard deviations: of errors that much beyond the limit, four in five are noticed
POOR_FIT = 0.3  # px: six times the usual noise of saddle points
SCALE_OFF = 0.015  # a print-out further off than this was fitted to the page
LEAST_PLATE, LARGEST_PLATE = 0.8, 1.4  # of the standard size: oversize plates are 3 1/2 × 5 1/4 (makers' class), 1.27
# What people misread a tape by, inches, and how (common practice, no source).
MISREADINGS = (
    (12.0, "a foot was miscounted"),
    (1.0, "an inch was miscounted, or the tape was held at its 1 in mark"),
    (0.75, "1/8 was read for 7/8, or the other way about"),
    (0.5, "half an inch was miscounted"),
    (0.25, "a quarter was miscounted"),
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
    found = []
    if not solution.converged:
        found.append(
            Finding(
                "not-solved", wall.name, f"The photos of “{wall.name}” do not fit together, so no place on it is sure.",
                "Look at the marks and tape readings, or take the photos again.", Grade.STOP,
            )
        )  # fmt: skip
    if solution.net.shots and len(solution.net.cards) <= FEW_CARDS and wall.width is None and not wall.tapes:
        found.append(
            Finding(
                "few-cards", wall.name, f"“{wall.name}” has few cards and no tape reading, so its places are rough.",
                "Tape one long distance, or add cards near the ends and take the photo again.",
            )
        )  # fmt: skip
    found_out = suspects(solution)
    named = list(_misprinted(wall, solution, found_out)) or list(_named(wall, solution, found_out))
    return [*found, *(named or _poor_fits(solution)), *(odd for f in features for odd in _odd_size(wall, f))]


def _misprinted(wall: Wall, solution: Solution, found: Sequence[Tested]) -> Iterator[Finding]:
    """Cards that were fitted to the page, unless one misread tape explains the scale better."""
    net, scales = solution.net, solution.unknowns[solution.slots.printed]
    strain = float(np.sum(((scales - net.print_mean) / net.print_sd) ** 2))
    tape = max((t.drop for t in found if t.hypothesis.kind is Mistake.TAPE), default=0.0)
    if net.shots and np.abs(scales - 1).max() > SCALE_OFF and tape < ALIKE * strain:
        yield Finding(
            "print-scale", wall.name,
            f"The cards on “{wall.name}” seem printed at {float(np.mean(scales)):.1%} of their size.",
            "Print them again at 100 %, or tape the check bar and enter what it reads.",
        )  # fmt: skip


def _named(wall: Wall, solution: Solution, found: Sequence[Tested]) -> Iterator[Finding]:
    """The likeliest mistake in words; one at a time, since a gross error spoils its neighbours' residuals too."""
    if not found:
        return
    worst, h = found[0], found[0].hypothesis
    if h.kind is Mistake.TAPE:
        yield _tape_disagrees(wall, solution, worst)
    elif h.kind is Mistake.SIGHT:
        off = float(np.linalg.norm(worst.size))
        yield Finding(
            "mark-disagrees", wall.name,
            f"The mark of {solution.net.sights.names[h.index]} lies {off:.0f} pixels from where everything else on "
            f"“{wall.name}” has it.", "Mark it again there, and see that its name is right.",
        )  # fmt: skip
    else:
        alike = [t for t in found if t.hypothesis.kind is h.kind and NO_TELLING * t.drop >= worst.drop]
        yield _card_disagrees(wall, solution, alike)


def _tape_disagrees(wall: Wall, solution: Solution, worst: Tested) -> Finding:
    tapes, i = solution.net.tapes, worst.hypothesis.index
    off = float(worst.size[0])
    by, why = min(MISREADINGS, key=lambda m: abs(abs(off) - m[0]))
    cause = why if abs(abs(off) - by) < 2 * worst.sd[0] + 1 / 32 and worst.sd[0] < by / 4 else ""
    return Finding(
        "tape-disagrees", wall.name,
        f"The {tapes.names[i]}, {show_length(float(tapes.length[i]))}, disagrees by {show_length(abs(off))} with "
        f"everything else on “{wall.name}”{f'; perhaps {cause}' if cause else ''}.",
        "Tape it again; if it reads the same, look at the marks at its ends.", subject=tapes.names[i],
    )  # fmt: skip


def _card_disagrees(wall: Wall, solution: Solution, alike: Sequence[Tested]) -> Finding:
    """A card that moved, stands off or is of another size; where two cards may be it, both are named."""
    h, size = alike[0].hypothesis, alike[0].size
    numbers = " or ".join(str(n) for n in dict.fromkeys(t.hypothesis.cards[0] for t in alike))
    subject = " and ".join(f"card {n}" for n in h.cards)
    aside = f"set card {numbers} aside"
    if h.kind is Mistake.SWAPPED:
        photo = solution.net.shots[h.index].name
        what = "changed places" if _swapped(solution, h, size) else "both moved"
        return Finding(
            "cards-moved", photo,
            f"Cards {h.cards[0]} and {h.cards[1]} seem to have {what} before “{photo}” was taken.",
            "Take the photo again, or set both aside in it.", subject=subject,
        )  # fmt: skip
    if h.kind is Mistake.MOVED:
        photos = list(dict.fromkeys(solution.net.shots[t.hypothesis.index].name for t in alike))
        other = f"“{photos[1]}”" if len(photos) == 2 else "the other photos"
        far = show_length(float(np.hypot(size[0], size[1])))
        return Finding(
            "card-moved", photos[0], f"Card {numbers} moved by {far} between “{photos[0]}” and {other}.",
            f"If it slipped or was stuck again, take the photos again, or {aside} in one of them.", subject=subject,
        )  # fmt: skip
    if h.kind is Mistake.SCALE:
        return Finding(
            "card-scale", wall.name,
            f"Card {numbers} on “{wall.name}” seems printed at {1 + float(size[0]):.1%} of the others' size.",
            f"See whether it is of another print run; print it again with the others, or {aside}.", subject=subject,
        )  # fmt: skip
    way = "off" if size[0] > 0 else "behind"
    return Finding(
        "card-proud", wall.name,
        f"Card {numbers} seems to hang {show_length(abs(float(size[0])))} {way} the face of “{wall.name}”.",
        f"Stick it on the wall itself, not on a door, casing or loose paper, or {aside}.", subject=subject,
    )  # fmt: skip


def _swapped(solution: Solution, h: Hypothesis, size: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> bool:
    """Whether each of two cards went to where the other hangs."""
    at = [solution.unknowns[solution.slots.card(solution.net.cards.index(n))][:2] for n in h.cards]
    way = at[1] - at[0]
    misses = np.linalg.norm([size[:2] - way, size[3:5] + way], axis=1)
    return bool(misses.max() < np.linalg.norm(way) / 4)


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
            yield Finding(
                "odd-size", wall.name,
                f"{feature.name} on “{wall.name}” comes out {show_length(seen)} {side}; "
                f"a plate of {feature.mark.gangs} gang is {show_length(common)}, an oversize one up to a third more.",
                "Mark the corners of its plate again, or tape it and give its size.",
            )  # fmt: skip
            return
