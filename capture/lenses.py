"""Which lens each photo was taken through, what is known of it beforehand, and whether a calibration holds for it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from capture.beliefs import lens_belief
from capture.camera import LENS
from capture.net import LensKey, Seen
from capture.record import Lens
from capture.survey import Finding, Grade

Array = NDArray[np.float64]


def lenses_of(seen: Sequence[Seen]) -> list[LensKey]:
    """One lens for all photos of the same phone, zoom and sensor size."""
    return sorted({lens_key(s) for s in seen}, key=str)


def lens_key(seen: Seen) -> LensKey:
    """What tells that two photos are through one lens; one that was cropped has its own."""
    done = f"zoom {seen.zoom:g}" if seen.zoom != 1.0 else seen.name if cropped(seen) else ""
    return seen.phone, seen.focal_35, seen.sensor, done


def cropped(seen: Seen) -> bool:
    """Whether a picture is not as large as its phone took it: cropped, or made smaller."""
    return seen.full_size is not None and set(seen.full_size) != set(seen.size)


def lens_priors(keys: Sequence[LensKey], kept: Sequence[Lens]) -> tuple[Array, Array]:
    """What is known of each lens beforehand, and its standard deviations, (L, 5) each."""
    mean, sd = np.zeros((len(keys), LENS)), np.zeros((len(keys), LENS))
    for i, key in enumerate(keys):
        mean[i], sd[i] = lens_belief(key[2], key[1], kept_lens(key, kept))
    return mean, sd


def kept_lens(key: LensKey, lenses: Sequence[Lens]) -> Lens | None:
    """The calibration that holds for a lens, if there is one."""
    return next((lens for lens in lenses if (lens.phone, lens.focal_35, lens.size, "") == key), None)


def lens_findings(seen: Sequence[Seen], lenses: Sequence[Lens]) -> list[Finding]:
    """Photos of a calibrated phone for which its calibration does not hold."""
    found = []
    for s in seen:
        if kept_lens(lens_key(s), lenses) is None and (why := _why_not(s, lenses)):
            found.append(
                Finding(
                    "lens-not-used", s.name,
                    f"The lens calibrated for {s.phone} was not used for “{s.name}”: it {why}.",
                    "Give the photo as the phone took it, or calibrate the lens as it was used here.", Grade.NOTE,
                )
            )  # fmt: skip
    return found


def _why_not(seen: Seen, lenses: Sequence[Lens]) -> str:
    mine = [lens for lens in lenses if seen.phone and lens.phone == seen.phone]
    if not mine:
        return ""
    return altered(seen) or (
        "was taken at another zoom"
        if all(lens.focal_35 != seen.focal_35 for lens in mine)
        else f"is {seen.sensor[0]} × {seen.sensor[1]} pixels, and the calibration is for another size"
    )


def altered(seen: Seen) -> str:
    """What was done to a picture so that its phone's calibrated lens does not hold for it; "" for nothing."""
    if seen.zoom != 1.0:
        return f"was taken with {seen.zoom:g} times digital zoom"
    return "was cropped or made smaller" if cropped(seen) else ""


def lens_words(keys: Sequence[LensKey], kept: Sequence[Lens]) -> str:
    """Which calibrations were used, in plain words; "" for none."""
    used = [lens for key in keys if (lens := kept_lens(key, kept)) is not None]
    return " and ".join(f"{lens.phone}, calibrated by {lens.photos} photos" for lens in used)
