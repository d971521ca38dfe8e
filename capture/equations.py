"""The observation equations: weighted residuals and their derivatives by all unknowns, group by group."""

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from capture import cards
from capture.camera import LENS, project_with_derivatives
from capture.net import Linear, Net, Shot, Slots, Tapes

Array = NDArray[np.float64]
Block = Callable[[Array], tuple[Array, Array]]


def observation_blocks(net: Net) -> list[Block]:
    """One function per group of observations: weighted residuals and their derivatives, unknowns to (v, J)."""
    slots = Slots.of(net)
    blocks: list[Block] = [
        partial(_corners, slots=slots, i=i, shot=shot, numbers=net.cards) for i, shot in enumerate(net.shots)
    ]
    if len(net.sights.shot):
        blocks.append(lambda x: _sights(x, slots, net))
    if len(net.tapes.length):
        blocks.append(lambda x: _tapes(x, net.tapes))
    blocks.append(_linear_block(net.linear))
    blocks.append(_linear_block(_beforehand(net, slots)))
    return blocks


def labels(net: Net) -> tuple[str, ...]:
    """What each residual is, in the order of `observation_blocks`."""
    corners = [f"corner in {s.name}" for s in net.shots for c in s.cards for _ in range(2 * len(c.which))]
    sights = [f"sight of {name}" for name in net.sights.names for _ in range(2)]
    priors = ["beforehand"] * (len(net.linear.value) + len(_beforehand(net, Slots.of(net)).value))
    return (*corners, *sights, *net.tapes.names, *priors)


def card_points(card: Array, printed: Array, nominal: Array) -> tuple[Array, Array, Array]:
    """Wall points of a card's printed points.

    Parameters
    ----------
    card : (3,) x, y [in], angle [rad]
    printed : (2,) scale across and up
    nominal : (K, 2) card inches

    Returns
    -------
    points : (K, 3) wall inches
    d_card : (K, 3, 3)
    d_printed : (K, 3, 2)
    """
    c, s = np.cos(card[2]), np.sin(card[2])
    turn, d_turn = np.array([[c, -s], [s, c]]), np.array([[-s, -c], [c, -s]])
    k = len(nominal)
    points, d_card, d_printed = np.zeros((k, 3)), np.zeros((k, 3, 3)), np.zeros((k, 3, 2))
    points[:, :2] = (nominal * printed) @ turn.T + card[:2]
    d_card[:, 0, 0] = d_card[:, 1, 1] = 1.0
    d_card[:, :2, 2] = (nominal * printed) @ d_turn.T
    d_printed[:, :2, :] = turn[None] * nominal[:, None, :]
    return points, d_card, d_printed


def _corners(x: Array, slots: Slots, i: int, shot: Shot, numbers: tuple[int, ...]) -> tuple[Array, Array]:
    v, rows = [], []
    lens, pose = slots.lens(shot.lens), slots.pose(i)
    for sighting in shot.cards:
        card = slots.card(numbers.index(sighting.number))
        nominal = cards.saddle_points()[sighting.which]
        points, d_card, d_printed = card_points(x[card], x[slots.printed], nominal)
        pixels, d_lens, d_pose, d_points = project_with_derivatives(x[lens], x[pose], points)
        J = np.zeros((len(points), 2, slots.size))
        J[:, :, lens], J[:, :, pose] = d_lens, d_pose
        J[:, :, card] = d_points @ d_card
        J[:, :, slots.printed] = d_points @ d_printed
        v.append((pixels - sighting.points).ravel())
        rows.append(J.reshape(-1, slots.size))
    if not v:
        return np.zeros(0), np.zeros((0, slots.size))
    return np.concatenate(v) / shot.corner_sd, np.concatenate(rows) / shot.corner_sd


def _sights(x: Array, slots: Slots, net: Net) -> tuple[Array, Array]:
    s = net.sights
    points = s.forms @ x[slots.q] + s.shift
    v, J = np.zeros((len(points), 2)), np.zeros((len(points), 2, slots.size))
    for i, shot in enumerate(net.shots):
        mine = s.shot == i
        lens, pose = slots.lens(shot.lens), slots.pose(i)
        pixels, d_lens, d_pose, d_points = project_with_derivatives(x[lens], x[pose], points[mine])
        v[mine] = pixels - s.pixels[mine]
        block = np.zeros((int(mine.sum()), 2, slots.size))
        block[:, :, lens], block[:, :, pose] = d_lens, d_pose
        block[:, :, slots.q] = d_points @ s.forms[mine]
        J[mine] = block
    weight = np.repeat(1.0 / s.sd, 2)
    return v.ravel() * weight, J.reshape(-1, slots.size) * weight[:, None]


def _tapes(x: Array, tapes: Tapes) -> tuple[Array, Array]:
    way = tapes.forms @ x + tapes.shift
    length = np.linalg.norm(way, axis=1)
    # Two places that both start at nothing have no direction yet: any will do to part them.
    along = np.where(length[:, None] > 1e-9, way / np.maximum(length, 1e-9)[:, None], np.sqrt(0.5))
    J = np.einsum("ti,tip->tp", along, tapes.forms)
    return (length - tapes.length) / tapes.sd, J / tapes.sd[:, None]


def _linear_block(linear: Linear) -> Block:
    rows = linear.rows / linear.sd[:, None]
    return lambda x: (rows @ x - linear.value / linear.sd, rows)


def _beforehand(net: Net, slots: Slots) -> Linear:
    """What is known before anything is seen: lenses, printed scale, coordinates."""
    mean = np.concatenate([net.lens_mean.ravel(), net.print_mean, net.coordinates.mean])
    sd = np.concatenate([net.lens_sd.ravel(), net.print_sd, net.coordinates.sd])
    which = np.r_[0 : LENS * slots.lenses, slots.printed, slots.q]
    known = np.isfinite(sd)
    rows = np.zeros((int(known.sum()), slots.size))
    rows[np.arange(len(rows)), which[known]] = 1.0
    return Linear(rows, mean[known], sd[known])
