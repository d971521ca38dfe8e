"""The least-squares adjustment: every camera, card and marked place of one wall, from all observations at once.

Observations: saddle points and sights in pixels, tape readings, and what is known beforehand, each with its own
standard deviation. Symbols follow Mikhail & Gracie, *Analysis and Adjustment of Survey Measurements* (1981):
v residuals, Q_xx cofactors of the unknowns (here scaled to covariances), r redundancy numbers.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.optimize import OptimizeResult, least_squares

from capture.camera import Camera, meet_plane, project_with_derivatives
from capture.equations import labels, observation_blocks
from capture.net import CORNER_SD, Net, Shot, Slots
from capture.wanted import still_wanted

Array = NDArray[np.float64]

CORNER_FLOOR = 0.02  # px: no photo is believed better than this
SETTLED = 0.02  # part of itself that a photo's noise may still change by: no plus-or-minus changes by more
MOST_STEPS = 200  # sound walls took 6 to 16 in simulation; one that takes more does not fit together
POOR_FIT = 9.0  # square sum of the residuals over their redundancy: three times the noise, so that a minimum is doubted
AT_REST = 1e-6  # standard deviations: a step that moves nothing by more is not worth taking
MOST_UNDAMPED = 20  # Gauss-Newton steps; from a rest that one mark moved it takes 3 or 4
LEAST_PART = 1 / 4  # of a step that is tried; the demo's steepest photo asked for 1/2
ROUNDING = 1e-9  # part of the cost that rounding may add near the minimum
LEAST_REDUNDANCY = 0.02  # an observation that others check by less cannot be blamed alone
CORNER_WEIGHT = 8.0  # how many observations the beforehand value counts for


@dataclass(frozen=True)
class Solution:
    """The outcome: estimates with their covariance, and how the observations agree."""

    net: Net  # with the corner noise as estimated
    unknowns: Array  # (P,)
    covariance: Array  # (P, P)
    residuals: Array  # (M,) v over sd
    redundancy: Array  # (M,) r, 0 to 1 each
    design: Array  # (M, P) derivatives of the weighted residuals by the unknowns
    labels: tuple[str, ...]  # what each observation is
    stopped: str  # how the solver stopped
    converged: bool
    first: Array | None = None  # (P,) unknowns before any photo's noise was estimated

    @property
    def slots(self) -> Slots:
        """Where each unknown lies."""
        return Slots.of(self.net)

    def shot_index(self, shot: str) -> int:
        """Place of a photo in the net; KeyError if it has none."""
        names = [s.name for s in self.net.shots]
        if shot not in names:
            raise KeyError(shot)
        return names.index(shot)

    def camera(self, shot: str) -> Camera:
        """The solved camera of a photo; KeyError if it has none."""
        i = self.shot_index(shot)
        s = self.net.shots[i]
        lens, _ = s.upright(self.unknowns[self.slots.lens(s.lens)])
        return Camera(s.size, lens, self.unknowns[self.slots.pose(i)])

    def coordinate(self, form: Array, shift: float) -> tuple[float, float]:
        """Value and standard deviation [in] of a linear function (S,) of the coordinates."""
        q = self.slots.q
        return float(form @ self.unknowns[q] + shift), float(
            np.sqrt(np.maximum(form @ self.covariance[q, q] @ form, 0.0))
        )

    @property
    def standardized(self) -> Array:
        """Standardized residuals (M,): v over its own standard deviation, normal (0, 1) where nothing is wrong.

        Zero where an observation is not checked by others (redundancy below `LEAST_REDUNDANCY`).

        References
        ----------
        Baarda (1968), A testing procedure for use in geodetic networks.
        """
        checked = self.redundancy > LEAST_REDUNDANCY
        return np.where(checked, self.residuals / np.sqrt(np.where(checked, self.redundancy, 1.0)), 0.0)

    def locate(self, shot: str, pixels: Array, z: Array, tap_sd: float = 0.0) -> tuple[Array, Array]:
        """Wall places of pixels in a photo.

        Parameters
        ----------
        shot
            The photo's name.
        pixels : (N, 2) px
        z : (N,) in, how proud each point's face is
        tap_sd
            Standard deviation of the pixels themselves, px.

        Returns
        -------
        xy : (N, 2) in
        covariance : (2N, 2N) in², of (x1, y1, x2, y2, ...)

        Notes
        -----
        From F(X, θ) - p = 0: dX = -(∂F/∂X)⁻¹ (∂F/∂θ dθ - dp), with X the two wall coordinates.
        """
        i = self.shot_index(shot)
        lens, pose = self.slots.lens(self.net.shots[i].lens), self.slots.pose(i)
        upright, d_upright = self.net.shots[i].upright(self.unknowns[lens])
        X = meet_plane(upright, self.unknowns[pose], pixels, z)
        _, d_lens, d_pose, d_X = project_with_derivatives(upright, self.unknowns[pose], X)
        inverse = np.linalg.inv(d_X[:, :, :2])
        J = np.zeros((len(X), 2, self.slots.size))
        J[:, :, lens] = -inverse @ d_lens @ d_upright
        J[:, :, pose] = -inverse @ d_pose
        flat = J.reshape(-1, self.slots.size)
        covariance = flat @ self.covariance @ flat.T
        for n, block in enumerate(inverse):
            covariance[2 * n : 2 * n + 2, 2 * n : 2 * n + 2] += tap_sd**2 * block @ block.T
        return X[:, :2], covariance


def adjust(net: Net, rounds: int = 3, start: Array | None = None) -> Solution:
    """Solve the net, then again with each photo's corner noise as its residuals tell it.

    The noise of a photo is (ν₀ σ₀² + Σ v²) / (ν₀ + Σ r): the beforehand value counts for `CORNER_WEIGHT`
    observations, and it never falls below `CORNER_FLOOR`. A net that twice comes to no rest is given up.
    """
    solution = _solve(net, start_of(net) if start is None else start)
    first = solution.unknowns
    for _ in range(rounds):
        before = [s.corner_sd for s in net.shots]
        net = replace(net, shots=tuple(_reweighted(s, solution) for s in net.shots))
        if np.allclose([s.corner_sd for s in net.shots], before, rtol=SETTLED):
            break
        last, solution = solution, _solve(net, solution.unknowns)
        if not (last.converged or solution.converged):
            break
    return replace(solution, first=first)


def _reweighted(shot: Shot, solution: Solution) -> Shot:
    mine = np.array([label == f"corner in {shot.name}" for label in solution.labels])
    v = solution.residuals[mine] * shot.corner_sd
    degrees = CORNER_WEIGHT + float(solution.redundancy[mine].sum())
    variance = (CORNER_WEIGHT * CORNER_SD**2 + float(v @ v)) / degrees
    return replace(shot, corner_sd=max(float(np.sqrt(variance)), CORNER_FLOOR))


def start_of(net: Net) -> Array:
    """The start values of all unknowns."""
    poses = [s.pose for s in net.shots]
    return np.concatenate(
        [net.lens_mean.ravel(), *poses, net.card_start.ravel(), net.print_mean, net.coordinates.start]
    ).astype(float)


class _Equations:
    """All observation equations of a net; the last point is kept, since residuals and derivatives come together."""

    def __init__(self, net: Net) -> None:
        self.blocks = observation_blocks(net)
        self.at = np.zeros(0)
        self.last = np.zeros(0), np.zeros((0, 0))

    def _evaluate(self, x: Array) -> tuple[Array, Array]:
        if not np.array_equal(x, self.at):
            still_wanted()
            pairs = [block(x) for block in self.blocks]
            self.at = x.copy()
            self.last = np.concatenate([v for v, _ in pairs]), np.concatenate([J for _, J in pairs])
        return self.last

    def residuals(self, x: Array) -> Array:
        return self._evaluate(x)[0]

    def jacobian(self, x: Array) -> Array:
        return self._evaluate(x)[1]


def _solve(net: Net, start: Array) -> Solution:
    """The minimum: by Gauss-Newton steps where they settle, and else by damped ones, which go further and slower.

    Gauss-Newton steps end both ways, so that one net comes to rest in one place from wherever it started.
    """
    equations = _Equations(net)
    rest, stopped, converged = _gauss_newton(equations, start), "Gauss-Newton steps settled", True
    if rest is None or _fits_poorly(rest):
        found = _damped(equations, start, rest)
        stopped, converged = str(found.message), bool(found.success)
        rest = _gauss_newton(equations, found.x) or _triangulated(equations, found.x)
    return solution_of(net, rest.x, rest.half, rest.fun, rest.jac, stopped, converged)


def _damped(equations: _Equations, start: Array, rest: "_Rest | None") -> OptimizeResult:
    """From the start, or from a rest that fits poorly: it may be a minimum beside the true one."""
    if rest is None:
        found = _minimum(equations, start, "lm")
        if not _fits_poorly(found):
            return found
    return _minimum(equations, found.x if rest is None else rest.x, "trf")


@dataclass(frozen=True)
class _Rest:
    """A point, its residuals and derivatives, and the Gauss-Newton step from there."""

    x: Array  # (P,)
    fun: Array  # (M,)
    jac: Array  # (M, P)
    upper: Array  # (P, P + 1) of the derivatives over `scale`, and of the residuals
    scale: Array  # (P,)

    @property
    def cost(self) -> float:
        """Half the square sum, as SciPy counts it."""
        return float(self.fun @ self.fun) / 2

    @property
    def half(self) -> Array:
        """A factor (P, P) of the covariance: half @ half.T."""
        return np.asarray(solve_triangular(self.upper[:, :-1], np.eye(len(self.x)))) / self.scale[:, None]

    @property
    def step(self) -> Array:
        """The step (P,)."""
        return -np.asarray(solve_triangular(self.upper[:, :-1], self.upper[:, -1])) / self.scale

    @property
    def length(self) -> float:
        """How long the step is: nothing moves by more standard deviations.

        It is the step's length where the covariance is the unit matrix (Mahalanobis), without the covariance.
        """
        return float(np.linalg.norm(self.upper[:, -1]))


def _triangulated(equations: _Equations, x: Array) -> _Rest:
    J, v = equations.jacobian(x), equations.residuals(x)
    # Columns differ by ten powers of ten (radians, pixels, inches): scale them before the QR decomposition.
    scale = np.linalg.norm(J, axis=0)
    scale[scale == 0] = 1.0
    return _Rest(x, v, J, triangle(np.column_stack([J / scale, v]))[: len(x)], scale)


def triangle(rows: Array) -> Array:
    """The upper triangle R of a QR decomposition: R' R = rows' rows."""
    return np.asarray(np.linalg.qr(rows, mode="r"))


def _gauss_newton(equations: _Equations, x: Array) -> _Rest | None:
    """Gauss-Newton until a step moves nothing by more than `AT_REST`; None where it does not come to that.

    A step that goes too far is halved, which is all the damping that a fair start asks for.
    """
    here, part = _triangulated(equations, x), 1.0
    for _ in range(MOST_UNDAMPED):
        if here.length < AT_REST:
            return here
        there = _triangulated(equations, here.x + part * here.step)
        if there.cost <= here.cost * (1 + ROUNDING):
            here, part = there, 1.0
        elif part <= LEAST_PART:
            return None
        else:
            part /= 2
    return None


def _fits_poorly(found: "OptimizeResult | _Rest") -> bool:
    return bool(2 * found.cost > POOR_FIT * (len(found.fun) - len(found.x)))


def _minimum(equations: _Equations, start: Array, method: Literal["lm", "trf"]) -> OptimizeResult:
    """Least squares by MINPACK's QR steps, or by a trust region with an SVD a step, which is surer and slower."""
    return least_squares(
        equations.residuals, start, jac=equations.jacobian, x_scale="jac", method=method, xtol=1e-12, ftol=1e-10,
        gtol=1e-12, max_nfev=MOST_STEPS,
    )  # fmt: skip


def solution_of(
    net: Net, unknowns: Array, half: Array, v: Array, J: Array, stopped: str, converged: bool, *, alone: bool = True
) -> Solution:
    """A solution from its estimates, a factor of their covariance (`half @ half.T`), residuals and derivatives."""
    Jh = J @ half
    return Solution(
        net=net,
        unknowns=unknowns,
        covariance=half @ half.T,
        residuals=v,
        redundancy=1.0 - np.einsum("ij,ij->i", Jh, Jh),
        design=J,
        labels=labels(net, alone=alone),
        stopped=stopped,
        converged=bool(converged),
    )
