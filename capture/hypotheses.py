"""What single mistake would explain the misfit best: every likely one is tried, as surveyors do it.

A mistake is a few more unknowns: how far a reading is off, how far a card moved before one photo. Each is tested by how
much of the weighted square sum of the residuals it takes away. Symbols follow Teunissen (2006), *Testing Theory*,
section 4 (detection, identification, adaptation): C the columns of the mistake, ∇ its size.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from capture.adjust import CORNER_WEIGHT, LEAST_REDUNDANCY, Solution
from capture.equations import Rows
from capture.net import CORNER_SD

Array = NDArray[np.float64]


UNLIKELY = 4.0  # standard deviations: a sound wall of a hundred observations shows one this far off in 150 walls
LOG_UNLIKELY = float(stats.chi2.logsf(UNLIKELY**2, 1))
LEAST_TOLD = 1e-5  # part of a card's mistake that must show in the residuals: it moves corners by hundreds of their sd


class Mistake(StrEnum):
    """Kinds of mistakes that are tried."""

    TAPE = "tape misread"
    SIGHT = "mark misplaced"
    MOVED = "card moved between photos"
    SCALE = "card printed at another scale"
    PROUD = "card stands off the wall"


@dataclass(frozen=True)
class Hypothesis:
    """One mistake that may have been made."""

    kind: Mistake
    index: int  # tape or sight; for cards the shot, -1 for all
    cards: tuple[int, ...] = ()  # numbers


@dataclass(frozen=True)
class Tested:
    """A mistake and what speaks for it."""

    hypothesis: Hypothesis
    size: Array  # (k,) ∇: inches for tapes and places, px for sights, a part for scales, rad for turns
    sd: Array  # (k,)
    drop: float  # what it takes off the weighted square sum
    log_chance: float  # logarithm of the chance of so large a drop where nothing is wrong


def tested(solution: Solution) -> list[Tested]:
    """All mistakes that the net can tell, the most telling first."""
    trial = _Trial(solution)
    candidates = [_Candidate(h, *trial.columns(h)) for h in _candidates(solution)]
    groups = [[c for c in candidates if c.size == k] for k in sorted({c.size for c in candidates})]
    found = [result for alike in groups for result in trial.test(alike)]
    return sorted(found, key=lambda t: (t.log_chance, -t.drop))


def _candidates(solution: Solution) -> Iterator[Hypothesis]:
    net = solution.net
    yield from (Hypothesis(Mistake.TAPE, i) for i in range(len(net.tapes.length)))
    yield from (Hypothesis(Mistake.SIGHT, i) for i in range(len(net.sights.shot)))
    for i, shot in enumerate(net.shots):
        elsewhere = {c.number for j, other in enumerate(net.shots) if j != i for c in other.cards}
        shared = [c.number for c in shot.cards if c.number in elsewhere]
        if len(shot.cards) > 1:
            yield from (Hypothesis(Mistake.MOVED, i, (n,)) for n in shared)
    if len(net.cards) > 1:
        kinds = (Mistake.SCALE, Mistake.PROUD) if len(net.bow) else (Mistake.SCALE,)
        yield from (Hypothesis(kind, -1, (n,)) for n in net.cards for kind in kinds)


@dataclass(frozen=True)
class _Candidate:
    """A mistake as columns: what one unit of it does to the weighted residuals."""

    hypothesis: Hypothesis
    where: NDArray[np.intp]  # (R,) rows that it touches
    C: Array  # (R, k)

    @property
    def size(self) -> int:
        """How many unknowns it has."""
        return int(self.C.shape[1])


class _Trial:
    """Tests mistakes against one solution."""

    def __init__(self, solution: Solution) -> None:
        self.solution, self.rows = solution, Rows.of(solution.net)
        corners = slice(0, max((rows.stop for rows in self.rows.cards.values()), default=0))
        v, shots = solution.residuals[corners], solution.net.shots
        self.square = float(v @ v) + sum(CORNER_WEIGHT * (CORNER_SD / shot.corner_sd) ** 2 for shot in shots)
        self.degrees = float(solution.redundancy[corners].sum()) + CORNER_WEIGHT * len(shots)

    def test(self, alike: Sequence[_Candidate]) -> list[Tested]:
        """Candidates of one size, less those that the other observations cannot tell from the truth."""
        shares = [self._share(c) for c in alike]
        own, N, t = (np.array(part) for part in zip(*shares, strict=True))
        least = np.array([LEAST_TOLD if c.hypothesis.cards else LEAST_REDUNDANCY for c in alike])
        told = [int(i) for i in np.flatnonzero(np.linalg.eigvalsh(N)[:, 0] >= least)]
        own, N, t = own[told], N[told], t[told]
        inverse = np.linalg.inv(N)
        size = -np.einsum("nij,nj->ni", inverse, t)
        drop = -np.einsum("ni,ni->n", t, size)
        sd = np.sqrt(np.einsum("nii->ni", inverse)) / own
        mistakes = [alike[i].hypothesis for i in told]
        chances = self._log_chances(np.array([bool(h.cards) for h in mistakes], bool), drop, size.shape[1])
        return [Tested(*one) for one in zip(mistakes, size / own, sd, drop.tolist(), chances.tolist(), strict=True)]

    def _share(self, candidate: _Candidate) -> tuple[Array, Array, Array]:
        """Lengths (k,) of the columns; of these at unit length, C' Q_vv C (k, k) and C' v (k,), Q_vv = I - J Q J'."""
        own = np.linalg.norm(candidate.C, axis=0)
        C = candidate.C / np.where(own > 0, own, 1.0)
        Jc = self.solution.design[candidate.where].T @ C
        N = C.T @ C - Jc.T @ self.solution.covariance @ Jc
        return own, N, C.T @ self.solution.residuals[candidate.where]

    def _log_chances(self, cards: NDArray[np.bool_], drop: Array, k: int) -> Array:
        """Tapes and taps have noise known beforehand; corners were weighted by their own misfit, mistake and all.

        So for `cards` the noise is taken anew from what the mistake leaves (externally studentized, F distributed).
        """
        degrees = self.degrees - k
        left = np.maximum(self.square - drop[cards], 1e-9 * self.square)
        chances = np.empty(len(drop))
        chances[~cards] = stats.chi2.logsf(drop[~cards], k)
        chances[cards] = stats.f.logsf((drop[cards] / k) / (left / degrees), k, degrees)
        return chances

    def columns(self, h: Hypothesis) -> tuple[NDArray[np.intp], Array]:
        """Rows that a mistake touches, and its columns there: what one unit of it does to the weighted residuals."""
        net = self.solution.net
        if h.kind is Mistake.TAPE:
            return np.array([self.rows.tapes[h.index]]), np.array([[1.0 / net.tapes.sd[h.index]]])
        if h.kind is Mistake.SIGHT:
            rows = self.rows.sights[h.index]
            return np.arange(rows.start, rows.stop), np.eye(2) / net.sights.sd[h.index]
        return self._card_columns(h, h.cards[0])

    def _card_columns(self, h: Hypothesis, number: int) -> tuple[NDArray[np.intp], Array]:
        net, slots, J = self.solution.net, self.solution.slots, self.solution.design
        card = net.cards.index(number)
        mine = [rows for (i, n), rows in self.rows.cards.items() if n == number and h.index in (i, -1)]
        where = np.concatenate([np.arange(rows.start, rows.stop) for rows in mine])
        if h.kind is Mistake.SCALE:
            return where, J[where, slots.printed].sum(axis=1, keepdims=True)
        if h.kind is Mistake.PROUD:
            return where, J[where][:, [slots.q.start + net.bow[card, 0]]]
        return where, J[where, slots.card(card)]
