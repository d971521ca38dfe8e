"""The wall's bow: how far its face stands off the mean plane, as a smooth random surface.

Drywall is not a plane. What the wall does between cards is not seen, but it changes slowly: a point near a card shares
most of the card's bow. So the heights at cards and marks, and the slopes at cards, are unknowns whose joint covariance
beforehand is that of a Gaussian process with a squared-exponential kernel (Rasmussen & Williams 2006, *Gaussian
Processes for Machine Learning*, eq. 4.9; its derivatives, eq. 9.1).
"""

import numpy as np
from numpy.typing import NDArray

from capture.beliefs import BOW_REACH, BOW_ROUGH

Array = NDArray[np.float64]


def bow_covariance(cards: Array, marks: Array, sd: float) -> Array:
    """Covariance beforehand of the bow at cards and marks.

    Parameters
    ----------
    cards : (C, 2) wall inches
    marks : (M, 2) wall inches
    sd
        Standard deviation of the bow anywhere, inches.

    Returns
    -------
    (3 C + M, 3 C + M)
        Height [in], slope across and slope up for each card in turn, then the height at each mark. Every card and
        mark has a roughness of its own besides (`BOW_ROUGH`), which keeps the matrix regular; a card's slope has as
        much as that over half its width.
    """
    at = np.vstack([np.repeat(cards.reshape(-1, 2), 3, axis=0), marks.reshape(-1, 2)])
    slope = np.concatenate([np.tile([-1, 0, 1], len(cards)), np.full(len(marks), -1)])  # -1: the height itself
    d = (at[:, None] - at[None]) / BOW_REACH
    kernel = sd**2 * np.exp(-0.5 * np.sum(d**2, axis=2))
    i, j = np.broadcast_arrays(slope[:, None], slope[None])
    da = np.where(i < 0, 1.0, -np.take_along_axis(d, np.maximum(i, 0)[..., None], axis=2)[..., 0])
    db = np.where(j < 0, 1.0, np.take_along_axis(d, np.maximum(j, 0)[..., None], axis=2)[..., 0])
    # Each slope brings one factor ∓d / reach; two slopes along one axis bring 1 / reach² besides.
    same = np.where((i >= 0) & (i == j), 1.0, 0.0)
    covariance = kernel * (da * db + same) / BOW_REACH ** ((i >= 0).astype(float) + (j >= 0))
    rough = np.where(slope < 0, BOW_ROUGH, BOW_ROUGH / CARD_HALF)
    return np.asarray(covariance + np.diag(rough**2))


CARD_HALF = 4.25  # in: half a sheet's width


def whitened(covariance: Array) -> Array:
    """The matrix W for which W x has unit covariance when x has this one: the inverse of its Cholesky factor."""
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))
