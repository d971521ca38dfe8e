"""What spoils a wall whose photos fit together badly: it is left out, and the noise that remains tells.

A width misread by feet, or a card that fell and was stuck again by an arm's length, is no small mistake: around the
spoiled solution nothing is linear, so the wall is adjusted anew: without the tape readings; without a card, first one
of one photo or of all, then two of one photo.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from capture.adjust import Solution, adjust
from capture.equations import Rows
from capture.hypotheses import UNLIKELY, Hypothesis, Mistake, Tested
from capture.net import CORNER_SD, Linear, Net, Shot
from capture.start import lay

Array = NDArray[np.float64]

SPOILED = 3 * CORNER_SD  # px: more noise than any sound photo was seen to have
MOST_TRIED = 40  # re-adjustments for one wall, some tens of milliseconds each
NO_TELLING = 1.05  # two cards without which the noise is alike to this: no residual tells which it was
LOOSE_SD = 1000.0  # in: a reading so unsure says nothing, but keeps what only it leads to from being nowhere
HELD_SD = 1.0  # in: keeps a card that no photo shows any more from being nowhere


@dataclass(frozen=True)
class LeftOut:
    """Cards left out, and what remains."""

    shot: int  # in which photo; -1 in all
    cards: tuple[int, ...]  # numbers
    noise: float  # px RMS of what the other corners miss by
    solution: Solution  # without them


def spoiled(solution: Solution) -> bool:
    """Whether some photo's cards miss their places by more than noise does."""
    return any(shot.corner_sd > SPOILED for shot in solution.net.shots)


def leave_out(solution: Solution) -> list[LeftOut]:
    """The cards without which the others fit together, the best explanation first and those alike after it.

    Empty where no one or two cards explain the misfit.
    """
    level = all_alike(solution)
    tried = [_without(level, shot, numbers) for shot, numbers in _singles(level)[:MOST_TRIED]]
    found = _best(tried)
    if found and found[0].noise > SPOILED:
        shots = list(dict.fromkeys(t.shot for t in sorted(tried, key=lambda t: t.noise) if t.shot >= 0))
        pairs = [(i, pair) for i in shots[:2] for pair in combinations(_shared(level.net, i), 2)]
        found = _best([_without(level, shot, pair) for shot, pair in pairs[:MOST_TRIED]])
    return [t for t in found if t.noise <= SPOILED]


def contradicted(solution: Solution) -> list[Tested]:
    """Readings that photos contradict which fit together without any, the worst first; none where they do not."""
    tapes = solution.net.tapes
    if not len(tapes.length) or not solution.net.shots:
        return []
    shots = tuple(replace(shot, corner_sd=CORNER_SD) for shot in solution.net.shots)
    loose = replace(tapes, sd=np.full(len(tapes.sd), LOOSE_SD))
    free = adjust(replace(solution.net, shots=shots, tapes=loose))
    if not free.converged or spoiled(free):
        return []
    rows = np.array(Rows.of(free.net).tapes)
    off, A = LOOSE_SD * free.residuals[rows], LOOSE_SD * free.design[rows]
    sd = np.sqrt(np.einsum("ti,ij,tj->t", A, free.covariance, A) + tapes.sd**2)
    worst = [int(i) for i in np.argsort(-np.abs(off / sd)) if abs(off[i]) > UNLIKELY * sd[i]]
    squares = (off / sd) ** 2
    chances = stats.chi2.logsf(squares, 1)
    return [Tested(Hypothesis(Mistake.TAPE, i), off[[i]], sd[[i]], float(squares[i]), float(chances[i])) for i in worst]


def all_alike(solution: Solution) -> Solution:
    """Adjusted with the usual noise in all photos: a photo that a mistake made look noisy would hide it."""
    shots = tuple(replace(shot, corner_sd=CORNER_SD) for shot in solution.net.shots)
    return adjust(replace(solution.net, shots=shots), rounds=0, start=solution.unknowns)


def explains(level: Solution, drop: float) -> bool:
    """Whether a mistake that takes so much off the square sum of `all_alike` leaves no more than noise."""
    left = (float(level.residuals @ level.residuals) - drop) / max(float(level.redundancy.sum()) - 1.0, 1.0)
    return left <= (SPOILED / CORNER_SD) ** 2


def _best(tried: Sequence[LeftOut]) -> list[LeftOut]:
    """The least noise first; of two alike, the one that leaves out less."""
    least = min((t.noise for t in tried), default=0.0)
    alike = [t for t in tried if t.noise <= NO_TELLING * least]
    return sorted(alike, key=lambda t: (t.shot < 0, t.noise))


def _singles(solution: Solution) -> list[tuple[int, tuple[int, ...]]]:
    net = solution.net
    ones: list[tuple[int, tuple[int, ...]]] = [(i, (n,)) for i in range(len(net.shots)) for n in _shared(net, i)]
    return ones + [(-1, (n,)) for n in net.cards if len(net.cards) > 2]


def _shared(net: Net, shot: int) -> list[int]:
    """Cards of a photo that another photo shows too."""
    others = {c.number for i, s in enumerate(net.shots) if i != shot for c in s.cards}
    return [c.number for c in net.shots[shot].cards if c.number in others and len(net.shots[shot].cards) > 2]


def _without(solution: Solution, shot: int, numbers: tuple[int, ...]) -> LeftOut:
    net = solution.net
    shots = tuple(
        replace(s, cards=tuple(c for c in s.cards if c.number not in numbers)) if shot in (-1, i) else s
        for i, s in enumerate(net.shots)
    )
    net = replace(net, shots=shots, linear=net.linear.and_(_held(solution, numbers if shot < 0 else ())))
    rest = adjust(net, rounds=0, start=solution.unknowns)
    corners = sum(2 * len(c.which) for s in shots for c in s.cards)
    v, r = rest.residuals[:corners], rest.redundancy[:corners]
    return LeftOut(shot, numbers, CORNER_SD * float(np.sqrt(v @ v / max(r.sum(), 1.0))), rest)


def _held(solution: Solution, numbers: Sequence[int]) -> Linear:
    """Cards that no photo shows any more stay about where they were."""
    columns = [c for n in numbers for c in np.r_[solution.slots.card(solution.net.cards.index(n))]]
    rows = np.zeros((len(columns), solution.slots.size))
    rows[np.arange(len(columns)), columns] = 1.0
    return Linear(rows, solution.unknowns[columns], np.full(len(columns), HELD_SD))


def moves(solution: Solution, found: LeftOut) -> Iterator[tuple[int, Array]]:
    """How far each card left out of one photo hangs there from where the others have it, (2,) inches."""
    shot: Shot = solution.net.shots[found.shot]
    camera = found.solution.camera(shot.name)
    for number in found.cards:
        sighting = next(c for c in shot.cards if c.number == number)
        ((place,),), _ = lay((sighting,), camera.lens, camera.pose[None])
        home = found.solution.unknowns[found.solution.slots.card(solution.net.cards.index(number))]
        yield number, place[:2] - home[:2]
