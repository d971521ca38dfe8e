"""The observation equations: weighted residuals and their derivatives by all unknowns, group by group."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from capture import cards
from capture.camera import LENS, project_with_derivatives
from capture.net import Linear, Net, Slots, Tapes

Array = NDArray[np.float64]
Block = Callable[[Array], tuple[Array, Array]]


def observation_blocks(net: Net, *, alone: bool = True) -> list[Block]:
    """One function per group of observations: weighted residuals and their derivatives, unknowns to (v, J).

    Not `alone`, what is known beforehand of lenses and printed scale is left out: walls share it.
    """
    slots = Slots.of(net)
    blocks = [_corners(net, i) for i in range(len(net.shots))]
    if len(net.sights.shot):
        blocks.append(lambda x: _sights(x, slots, net))
    if len(net.tapes.length):
        blocks.append(lambda x: _tapes(x, net.tapes))
    blocks.append(linear_block(net.linear))
    blocks.append(linear_block(_beforehand(net, slots, alone)))
    return blocks


def labels(net: Net, *, alone: bool = True) -> tuple[str, ...]:
    """What each residual is, in the order of `observation_blocks`."""
    corners = [f"corner in {s.name}" for s in net.shots for c in s.cards for _ in range(2 * len(c.which))]
    sights = [f"sight of {name}" for name in net.sights.names for _ in range(2)]
    priors = ["beforehand"] * (len(net.linear.value) + len(_beforehand(net, Slots.of(net), alone).value))
    return (*corners, *sights, *net.tapes.names, *priors)


@dataclass(frozen=True)
class Rows:
    """Which residuals belong to what, in the order of `observation_blocks`."""

    cards: dict[tuple[int, int], slice]  # shot and card number
    sights: tuple[slice, ...]
    tapes: tuple[int, ...]

    @classmethod
    def of(cls, net: Net) -> "Rows":
        """The rows of a net."""
        cards, at = {}, 0
        for i, shot in enumerate(net.shots):
            for card in shot.cards:
                cards[i, card.number] = slice(at, at + 2 * len(card.which))
                at += 2 * len(card.which)
        sights = tuple(slice(at + 2 * n, at + 2 * n + 2) for n in range(len(net.sights.shot)))
        at += 2 * len(sights)
        return cls(cards, sights, tuple(range(at, at + len(net.tapes.length))))


def card_points(place: Array, printed: Array, nominal: Array, bow: Array) -> tuple[Array, Array, Array, Array]:
    """Wall points of cards' printed points.

    Parameters
    ----------
    place : (N, 3) or (3,) x, y [in], angle [rad] of each point's card
    printed : (2,) scale across and up
    nominal : (N, 2) card inches
    bow : (N, 3) or (3,) height [in] of the wall at the card's middle, slopes across and up

    Returns
    -------
    points : (N, 3) wall inches
    d_place : (N, 3, 3)
    d_printed : (N, 3, 2)
    d_bow : (N, 3, 3)
    """
    n = len(nominal)
    place, bow = np.broadcast_to(place, (n, 3)), np.broadcast_to(bow, (n, 3))
    c, s = np.cos(place[:, 2]), np.sin(place[:, 2])
    turn = np.stack([np.stack([c, -s], axis=1), np.stack([s, c], axis=1)], axis=1)
    points = np.zeros((n, 3))
    d_place, d_printed, d_bow = (np.zeros((n, 3, k)) for k in (3, 2, 3))
    away = np.einsum("nab,nb->na", turn, nominal * printed)
    points[:, :2] = away + place[:, :2]
    points[:, 2] = bow[:, 0] + np.einsum("na,na->n", away, bow[:, 1:])
    d_place[:, 0, 0] = d_place[:, 1, 1] = 1.0
    d_place[:, 0, 2], d_place[:, 1, 2] = -away[:, 1], away[:, 0]
    d_printed[:, :2, :] = turn * nominal[:, None, :]
    for derivative in (d_place[:, :, 2:], d_printed):  # what moves along the wall rides on its slopes
        derivative[:, 2] = np.einsum("na,nak->nk", bow[:, 1:], derivative[:, :2])
    d_bow[:, 2, 0] = 1.0
    d_bow[:, 2, 1:] = away
    return points, d_place, d_printed, d_bow


def _corners(net: Net, i: int) -> Block:
    """The saddle points of all cards in one photo."""
    slots, shot = Slots.of(net), net.shots[i]
    if not shot.cards:
        return lambda x: (np.zeros(0), np.zeros((0, slots.size)))
    cards_at = [net.cards.index(c.number) for c in shot.cards]
    counts = [len(c.which) for c in shot.cards]
    nominal = np.concatenate([cards.saddle_points()[c.which] for c in shot.cards])
    seen = np.concatenate([c.points for c in shot.cards])
    lens, pose = slots.lens(shot.lens), slots.pose(i)
    place = np.repeat([np.r_[slots.card(k)] for k in cards_at], counts, axis=0)
    bow = np.repeat(slots.q.start + net.bow[cards_at], counts, axis=0) if len(net.bow) else None
    each = np.arange(len(seen))[:, None]

    def block(x: Array) -> tuple[Array, Array]:
        upright, d_upright = shot.upright(x[lens])
        height = np.zeros(3) if bow is None else x[bow]
        points, d_place, d_printed, d_bow = card_points(x[place], x[slots.printed], nominal, height)
        pixels, d_lens, d_pose, d_points = project_with_derivatives(upright, x[pose], points)
        J = np.zeros((len(points), 2, slots.size))
        J[:, :, lens], J[:, :, pose] = d_lens @ d_upright, d_pose
        J[:, :, slots.printed] = d_points @ d_printed
        J[each, :, place] = (d_points @ d_place).transpose(0, 2, 1)
        if bow is not None:
            J[each, :, bow] = (d_points @ d_bow).transpose(0, 2, 1)
        return (pixels - seen).ravel() / shot.corner_sd, J.reshape(-1, slots.size) / shot.corner_sd

    return block


def _sights(x: Array, slots: Slots, net: Net) -> tuple[Array, Array]:
    s = net.sights
    points = s.forms @ x[slots.q] + s.shift
    v, J = np.zeros((len(points), 2)), np.zeros((len(points), 2, slots.size))
    for i, shot in enumerate(net.shots):
        mine = s.shot == i
        lens, pose = slots.lens(shot.lens), slots.pose(i)
        upright, d_upright = shot.upright(x[lens])
        pixels, d_lens, d_pose, d_points = project_with_derivatives(upright, x[pose], points[mine])
        v[mine] = pixels - s.pixels[mine]
        block = np.zeros((int(mine.sum()), 2, slots.size))
        block[:, :, lens], block[:, :, pose] = d_lens @ d_upright, d_pose
        block[:, :, slots.q] = d_points @ s.forms[mine]
        J[mine] = block
    weight = np.repeat(1.0 / s.sd, 2)
    return v.ravel() * weight, J.reshape(-1, slots.size) * weight[:, None]


def _tapes(x: Array, tapes: Tapes) -> tuple[Array, Array]:
    from_to = tapes.forms @ x + tapes.shift
    length = np.linalg.norm(from_to, axis=1)
    # Two places that both start at nothing have no direction yet: any will do to part them.
    along = np.where(length[:, None] > 1e-9, from_to / np.maximum(length, 1e-9)[:, None], np.sqrt(0.5))
    along = np.where(np.any(tapes.way, axis=1, keepdims=True), tapes.way, along)
    J = np.einsum("ti,tip->tp", along, tapes.forms)
    return (np.sum(along * from_to, axis=1) - tapes.length) / tapes.sd, J / tapes.sd[:, None]


def linear_block(linear: Linear) -> Block:
    """Linear observations as a block."""
    rows = linear.rows / linear.sd[:, None]
    return lambda x: (rows @ x - linear.value / linear.sd, rows)


def _beforehand(net: Net, slots: Slots, alone: bool) -> Linear:
    """What is known before anything is seen: coordinates and, of a wall `alone`, lenses and printed scale."""
    mean, sd, which = net.coordinates.mean, net.coordinates.sd, np.r_[slots.q]
    if alone:
        mean, sd = np.concatenate([net.lens_mean.ravel(), mean]), np.concatenate([net.lens_sd.ravel(), sd])
        which = np.r_[0 : LENS * slots.lenses, slots.q]
    known = np.isfinite(sd)
    rows = np.zeros((int(known.sum()), slots.size))
    rows[np.arange(len(rows)), which[known]] = 1.0
    linear = Linear(rows, mean[known], sd[known])
    if not alone:
        return linear
    scale = np.zeros((2, slots.size))
    scale[:, slots.printed] = net.print_root
    return linear.and_(Linear(scale, net.print_root @ net.print_mean, np.ones(2)))
