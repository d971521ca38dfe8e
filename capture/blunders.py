"""What does not fit together: gross errors named by the observation that most likely holds them."""

from collections.abc import Iterator, Sequence

import numpy as np

from capture.adjust import Solution
from capture.lengths import show_length
from capture.places import usual_size
from capture.record import Wall
from capture.survey import Feature, Finding, Grade

FEW_CARDS = 2
UNLIKELY = 4.0  # standard deviations: a sound wall of a hundred observations shows one this far off in 150 walls
ALIKE = 1.1  # a tape and the one mark at its end disagree alike; the tape is named, and with it the marks
POOR_FIT = 0.3  # px: six times the usual noise of saddle points
SCALE_OFF = 0.015  # a print-out further off than this was fitted to the page
LEAST_PLATE, LARGEST_PLATE = 0.8, 1.4  # of the standard size: oversize plates are 3 1/2 × 5 1/4 (makers' class), 1.27


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
    found += list(_misprinted(wall, solution)) or _outlier(wall, solution)
    return [*found, *_poor_fits(solution), *(odd for feature in features for odd in _odd_size(wall, feature))]


def _misprinted(wall: Wall, solution: Solution) -> Iterator[Finding]:
    scales = solution.unknowns[solution.slots.printed]
    if solution.net.shots and np.abs(scales - 1).max() > SCALE_OFF:
        yield Finding(
            "print-scale", wall.name,
            f"The cards on “{wall.name}” seem printed at {float(np.mean(scales)):.1%} of their size.",
            "Print them again at 100 %, or tape the check bar and enter what it reads.",
        )  # fmt: skip


def _outlier(wall: Wall, solution: Solution) -> Iterator[Finding]:
    """The tape reading or sight that disagrees most with all others, if by more than chance would have it.

    One at a time, since a gross error spoils its neighbours' residuals too; its size is -v / r (Baarda 1968).
    """
    suspects = [label.startswith(("tape ", "sight of ")) for label in solution.labels]
    size = np.where(suspects, np.abs(solution.standardized), 0.0)
    taped = [label in solution.net.tapes.names for label in solution.labels]
    worst = int(np.argmax(np.where(taped, ALIKE * size, size)))
    if size[worst] <= UNLIKELY:
        return
    label = solution.labels[worst]
    off = abs(float(solution.residuals[worst] / solution.redundancy[worst]))  # in standard deviations
    if label in solution.net.tapes.names:
        nth = sum(taped[:worst])
        off *= float(solution.net.tapes.sd[nth])
        reading = show_length(float(solution.net.tapes.length[nth]))
        yield Finding(
            "tape-disagrees", wall.name,
            f"The {label}, {reading}, disagrees by {show_length(off)} with everything else on “{wall.name}”.",
            "Tape it again; if it reads the same, look at the marks at its ends.",
        )  # fmt: skip
    else:
        name = label.removeprefix("sight of ")
        off *= float(solution.net.sights.sd[(sum(suspects[:worst]) - sum(taped[:worst])) // 2])
        yield Finding(
            "mark-disagrees", wall.name,
            f"The mark of {name} lies {off:.0f} pixels from where everything else on “{wall.name}” has it.",
            "Mark it again there, and see that its name is right.",
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
            yield Finding(
                "odd-size", wall.name,
                f"{feature.name} on “{wall.name}” comes out {show_length(seen)} {side}; "
                f"a plate of {feature.mark.gangs} gang is {show_length(common)}, an oversize one up to a third more.",
                "Mark the corners of its plate again, or tape it and give its size.",
            )  # fmt: skip
            return
