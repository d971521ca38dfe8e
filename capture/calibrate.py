"""A phone's lens, calibrated from a few photos of the cards."""

from collections.abc import Sequence

import numpy as np

from capture.adjust import Solution, adjust
from capture.blunders import POOR_FIT
from capture.errors import PlainError
from capture.lenses import altered, lens_key
from capture.net import Seen
from capture.network import assemble
from capture.record import Learnt, Lens, PrintRun, Wall

FEWEST_PHOTOS = 4
FEWEST_CARDS = 3
SHARP = 0.003  # of the focal length: what focusing changes anyway; a calibration that is worse adds nothing


class LensError(PlainError):
    """Photos that no lens can be calibrated from."""


def calibrate(seen: Sequence[Seen]) -> Lens:
    """Calibrate the lens that all these photos were taken with.

    Parameters
    ----------
    seen
        Photos of the same cards on one flat wall or floor, taken from several sides, some with the phone turned.

    Returns
    -------
    Lens
        In pixels as on the sensor.

    Raises
    ------
    LensError
        Too few photos or cards, two lenses, a picture cropped or zoomed, or all taken from too much alike.
    """
    if len(seen) < FEWEST_PHOTOS:
        raise LensError(f"{len(seen)} photos with cards are too few for a lens; take {FEWEST_PHOTOS} or more.")
    keys = {lens_key(s): s.name for s in seen}
    if len(keys) > 1:
        a, b = list(keys.values())[:2]
        raise LensError(f"“{a}” and “{b}” differ in phone, zoom or size; give photos taken in one way.")
    for s in seen:
        if why := altered(s):
            raise LensError(f"“{s.name}” {why}; give it as the phone took it, without zoom.")
        if len(s.cards) < FEWEST_CARDS:
            raise LensError(f"“{s.name}” shows {len(s.cards)} cards; show {FEWEST_CARDS} or more in every photo.")
    if not seen[0].phone:
        raise LensError(f"“{seen[0].name}” does not say which phone took it; give it as the phone took it.")
    assembly = assemble(Wall(name="the cards"), seen, PrintRun())
    if len(assembly.net.shots) < len(seen):
        raise LensError(f"{assembly.findings[0].sentence} {assembly.findings[0].remedy}")
    return _lens(seen, adjust(assembly.net))


def _lens(seen: Sequence[Seen], solution: Solution) -> Lens:
    worst = max(solution.net.shots, key=lambda s: s.corner_sd)
    if not solution.converged or worst.corner_sd > POOR_FIT:
        raise LensError(
            f"The cards do not fit together, worst in “{worst.name}”; stick them flat and see that none moves."
        )
    where = solution.slots.lens(0)
    values = solution.unknowns[where]
    sds = np.sqrt(np.diag(solution.covariance)[where])
    if sds[0] > SHARP * values[0]:
        raise LensError(
            "These photos are taken from too much alike to tell the lens; take some from well to the left and right, "
            "two with the phone turned on its side, and fill the picture with cards."
        )
    f, cx, cy, k1, k2 = (Learnt(value=float(v), sd=float(s)) for v, s in zip(values, sds, strict=True))
    phone, focal_35, size, _ = lens_key(seen[0])
    return Lens(phone=phone, focal_35=focal_35, size=size, f=f, cx=cx, cy=cy, k1=k1, k2=k2, photos=len(seen))
