"""A job solved again: what the last solve leaves that holds for the next.

Nothing here is to change an answer, only how soon it comes: from another start the solver comes to rest in the same
place to a millionth of a standard deviation (`capture.adjust.AT_REST`). What was worked out is looked up by the whole
content of what went into it. A net that is new starts where the last one of the same wall came to rest, and goes on
from there to the same end: the noise of its photos is estimated from the usual one, as always.
"""

import hashlib
import pickle
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from capture.adjust import Solution, adjust, start_of
from capture.frame import join_photos
from capture.joint import Kept
from capture.net import Net, Seen, Slots
from capture.start import Stand
from capture.survey import Finding

T = TypeVar("T")
Array = NDArray[np.float64]

# Results kept, 0.4 MB each. One state of a job has up to four a wall: for a house they go by what is asked for `again`,
# which is two or more a wall and one more a room, so that what was read anew from disk is not all worked out anew.
LEAST, EACH = 200, 3


class Memory:
    """What the solves of one job leave."""

    def __init__(self) -> None:
        self._known: OrderedDict[tuple[str, str], Any] = OrderedDict()
        self._last: dict[Hashable, tuple[tuple[object, ...], Any]] = {}
        self._rests: dict[Hashable, tuple[Net, Array]] = {}
        self.joint = Kept()

    def once(self, what: str, work: Callable[[], T], *content: object) -> T:
        """What `work` gives, worked out once for the same content."""
        key = what, hashlib.sha256(pickle.dumps(content)).hexdigest()
        if key not in self._known:
            self._known[key] = work()
            while len(self._known) > max(LEAST, EACH * len(self._last)):
                self._known.popitem(last=False)
        self._known.move_to_end(key)
        found: T = self._known[key]
        return found

    def again(self, about: Hashable, work: Callable[[], T], *given: object) -> T:
        """What `work` gave last about the same, as long as it is given the very same objects, which nobody changes."""
        last = self._last.get(about)
        if last is None or len(last[0]) != len(given) or any(a is not b for a, b in zip(last[0], given, strict=True)):
            last = self._last[about] = given, work()
        found: T = last[1]
        return found

    def join(self, seen: Sequence[Seen]) -> tuple[dict[str, Stand], list[Finding]]:
        """As `join_photos`."""
        stands, findings = self.once("joined", lambda: join_photos(seen), list(seen))
        return dict(stands), list(findings)

    def adjust(self, net: Net, about: Hashable) -> Solution:
        """As `adjust`; `about` is the wall, or whatever else the next net of the same kind is known by."""
        return self.once("adjusted", lambda: self._adjust(net, about), net)

    def _adjust(self, net: Net, about: Hashable) -> Solution:
        start = _carried(*self._rests[about], net) if about in self._rests else None
        solution = adjust(net, start=start)
        if start is not None and not solution.converged:
            solution = adjust(net)
        self._rests[about] = net, solution.unknowns if solution.first is None else solution.first
        return solution


def _carried(before: Net, rest: Array, net: Net) -> Array | None:
    """Where a net may start: where the last one came to rest, moved by as much as its own start moved.

    None where other photos, cards or lenses take part.
    """
    parts = [(n.lens_keys, tuple(s.name for s in n.shots), n.cards) for n in (before, net)]
    if parts[0] != parts[1]:
        return None
    start, was = start_of(net), start_of(before)
    first = Slots.of(net).q.start  # what comes before are lenses, poses, cards, the printed scale: the same in both
    start[:first] += rest[:first] - was[:first]
    known = {name: i for i, name in enumerate(before.coordinates.names)}
    pairs = [(i, known[name]) for i, name in enumerate(net.coordinates.names) if name in known]
    here, there = (first + np.array(side, np.intp) for side in zip(*pairs, strict=True)) if pairs else ([], [])
    start[here] += rest[there] - was[there]
    return start
