"""How snapping fares: on generated close-ups, and on the demo's photos with thumbs off by up to half an inch."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from capture.camera import Camera
from capture.record import TRAITS, At, Kind, Shape, Side, Sight
from capture.rectangles import Thing
from capture.snap import Snap, snap_rectangle
from capture.snap_line import snap_line
from capture.taps import snap_sights
from tests import truth
from tests.closeups import THUMB, Closeup, closeups
from wainscribe import actions
from wainscribe.demo import demo_source
from wainscribe.folder import JobFolder

Table = list[tuple[str, ...]]
WRONG = 1 / 16  # in: an edge farther from the truth than this is wrong
ROUND = (At.BOTTOM_LEFT, At.BOTTOM_RIGHT, At.TOP_RIGHT, At.TOP_LEFT)


@dataclass(frozen=True)
class Outcome:
    """One tapped thing: how far out each edge came, in, and over its stated sd; nothing where the tap was kept."""

    category: str
    errors: np.ndarray  # (K,) in
    scaled: np.ndarray  # (K,) over the stated sd
    doubt: str

    @property
    def name(self) -> str:
        """Hit, miss, wrong, or either of the found ones with a doubt."""
        if not len(self.errors):
            return "tap kept"
        right = bool(np.abs(self.errors).max() <= WRONG)
        return {(True, False): "hit", (True, True): "right, in doubt", (False, True): "wrong, in doubt",
                (False, False): "wrong"}[right, bool(self.doubt)]  # fmt: skip


NAMES = ("hit", "right, in doubt", "tap kept", "wrong, in doubt", "wrong")


def snapped(closeup: Closeup) -> Snap:
    """A close-up's taps, snapped."""
    if closeup.kind in (Kind.CASING_EDGE, Kind.WALL_END):
        return snap_line(closeup.gray, closeup.camera, closeup.proud, closeup.taps[At.POINT], True, Side.LEFT)
    thing = Thing(closeup.kind, closeup.proud, closeup.gangs)
    return snap_rectangle(closeup.gray, closeup.camera, thing, closeup.taps)


def outcome(closeup: Closeup) -> Outcome:
    """How a close-up fared."""
    snap = snapped(closeup)
    errors = np.zeros(0)
    if snap.places:
        errors = edge_errors(closeup.camera, closeup.corners, closeup.proud, snap)
    sds = np.array([e.sd for e in snap.edges]) / closeup_scale(closeup)
    return Outcome(closeup.category, errors, errors / sds[: len(errors)], snap.doubt)


def closeup_scale(closeup: Closeup) -> float:
    """Pixels an inch."""
    a, b = closeup.corners[:2]
    return float(np.linalg.norm(np.subtract(*closeup.camera.project(np.array([a, b])))) / np.linalg.norm(a - b))


def edge_errors(camera: Camera, corners: np.ndarray, proud: float, snap: Snap) -> np.ndarray:
    """How far out the middles of left, right, bottom and top came, in (4,); of one upright edge how far right (1,).

    True corners (4, 3) are taken where they are seen: what a wrong belief on the projection does is the adjustment's.
    """
    true = camera.meet(camera.project(corners), proud)[:, :2]
    if At.POINT in snap.places:
        found = camera.meet(np.array([snap.places[At.POINT][:2]]), proud)[0, :2]
        along = (true[1] - true[0]) / np.linalg.norm(true[1] - true[0])
        return np.array([(found - true[0]) @ (along[1], -along[0])])
    found = camera.meet(np.array([snap.places[at][:2] for at in ROUND]), proud)[:, :2]
    errors = []
    for i, j in ((0, 3), (1, 2), (0, 1), (3, 2)):
        along = (true[j] - true[i]) / np.linalg.norm(true[j] - true[i])
        normal = np.array([along[1], -along[0]])
        normal *= np.sign(normal @ ((true[i] + true[j]) / 2 - true.mean(axis=0)))
        errors.append(normal @ (found[[i, j]].mean(axis=0) - true[[i, j]].mean(axis=0)))
    return np.array(errors)


def snap_table(each: int = 16) -> Table:
    """Hits, misses and wrong snaps on close-ups, by category; the error of hits, and how it fits its stated sd."""
    return tabled([outcome(c) for c in closeups(each)])


def tabled(outcomes: Iterable[Outcome]) -> Table:
    """Outcomes by category, and all together."""
    outcomes = list(outcomes)
    table: Table = [("what was tapped", "number", *NAMES, "RMS in", "(error/sd)²", "in 95 %")]
    for category in [*dict.fromkeys(o.category for o in outcomes), "all"]:
        mine = [o for o in outcomes if category in (o.category, "all")]
        sure = [o for o in mine if len(o.errors) and not o.doubt]
        errors, scaled = (np.concatenate([np.zeros(0), *(getattr(o, a) for o in sure)]) for a in ("errors", "scaled"))
        figures = ("", "", "")
        if len(errors):
            inside = np.mean(np.abs(scaled) < 1.959964)
            figures = (f"{truth.rms(errors):.3f}", f"{np.mean(scaled**2):.2f}", f"{inside:.0%}")
        table.append((category, str(len(mine)), *(str(sum(o.name == n for o in mine)) for n in NAMES), *figures))
    return table


# ---- the demo's photos ----

FEATURES = {"register 1": "register", "thermostat 1": "thermostat", "switch 1": "switch"}


TAPS = ("as marked", "corners, thumbs off", "middle, thumbs off")


def demo_outcomes(taps: str, times: int = 1, seed: int = 0) -> list[Outcome]:
    """The demo's rectangles and wall ends, tapped anew: each `times` times, but only once where taps are as marked."""
    folder, rng = JobFolder(demo_source()), np.random.default_rng(seed)
    job, outcomes = folder.load(), []
    for wall in job.walls:
        solution = actions.solve_wall(folder, job, wall.name).measured.solution
        for photo in (p for p in wall.photos if not p.record_only):
            gray, camera = truth.picture(photo.file).gray, solution.camera(photo.name)
            eye = truth.camera(photo.file, wall.name)
            for mark in wall.marks:
                corners = _true_corners(wall.name, mark)
                sights = [s for s in mark.sights if s.photo == photo.name and s.at not in (At.STOOL, At.APRON)]
                if corners is None or not sights:
                    continue
                for _ in range(1 if taps == "as marked" else times):
                    done = snap_sights(gray, camera, mark, _tapped(taps, mark, sights, camera, rng))
                    outcomes.append(_demo_outcome(f"{mark.name}, {photo.name}", done, eye, corners, mark.kind))
    return outcomes


def _tapped(taps, mark, sights, camera, rng):
    """The sights as marked, or each off by a thumb, or one thumb in the middle instead of them."""
    if taps == "as marked":
        return sights
    if taps.startswith("middle") and TRAITS[mark.kind].shape is Shape.RECTANGLE and mark.kind is not Kind.WINDOW:
        u, v = np.mean([(s.u, s.v) for s in sights], axis=0)
        sights = [Sight(photo=sights[0].photo, u=float(u), v=float(v))]
    return [_thumbed(s, camera, float(mark.proud), rng) for s in sights]


def _thumbed(sight, camera, proud, rng):
    """The sight with the thumb off by up to `THUMB` on the wall."""
    xy = camera.meet(np.array([(sight.u, sight.v)]), proud)
    turn, off = rng.uniform(0, 2 * np.pi), THUMB * np.sqrt(rng.uniform())
    u, v = camera.project(xy + np.array([off * np.cos(turn), off * np.sin(turn), 0.0]))[0]
    return sight.model_copy(update={"u": float(u), "v": float(v)})


def _true_corners(wall, mark):
    """True corners (4, 3) of a rectangle, or the ends (2, 3) of a wall's end."""
    if mark.kind is Kind.WALL_END:
        x = 0.0 if mark.side is Side.LEFT else float(truth.WALLS[wall]["width"])
        return np.array([(x, 10.0, float(mark.proud)), (x, 40.0, float(mark.proud))])
    if TRAITS[mark.kind].shape is not Shape.RECTANGLE or mark.kind is Kind.DAMAGE:
        return None
    feature = next(f for f in truth.WALLS[wall]["features"] if f["name"] == NAMES_IN_TRUTH.get(mark.name, mark.name))
    left, bottom, right, top, z = (feature[k] for k in ("left", "bottom", "right", "top", "projection"))
    return np.array([(left, bottom, z), (right, bottom, z), (right, top, z), (left, top, z)])


NAMES_IN_TRUTH = {"register 1": "register", "thermostat 1": "thermostat", "switch 1": "switch", "window 1": "window"}


def _demo_outcome(category, done, eye, corners, kind) -> Outcome:
    places = {s.at: (s.u, s.v, s.sd) for s in done.sights if s.sd is not None}
    if not places:
        return Outcome(category, np.zeros(0), np.zeros(0), done.doubt)
    errors = _casing_errors if kind is Kind.WINDOW else edge_errors
    errors = errors(eye, corners, float(corners[0, 2]), Snap(places))
    a, b = eye.project(corners[:2])
    scale = np.linalg.norm(a - b) / np.linalg.norm(corners[0] - corners[1])
    sd = max(p[2] for p in places.values()) / (1.0 if At.POINT in places else np.sqrt(2)) / scale
    return Outcome(category, errors, errors / sd, done.doubt)


def _casing_errors(eye, corners, proud, snap) -> np.ndarray:
    """How far out a window's casing came at its upper corners, in: each corner across and up."""
    errors = []
    for at, true, out in ((At.TOP_LEFT, corners[3], -1), (At.TOP_RIGHT, corners[2], 1)):
        if at in snap.places:
            found = eye.meet(np.array([snap.places[at][:2]]), proud)[0] - true
            errors += [out * found[0], found[1]]
    return np.array(errors)


def demo_table(times: int = 10) -> Table:
    """Hits, misses and wrong snaps on the demo's photos, by how they were tapped."""
    table: Table = []
    for taps in TAPS:
        rows = tabled([replace(o, category=taps) for o in demo_outcomes(taps, times)])
        table += rows[:-1] if not table else rows[1:-1]
    return table
