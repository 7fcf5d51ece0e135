"""Smooth ways in which a print may move as a whole while its paper stays: functions over device space, or over the
aim's colours, that vanish on bare paper."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from sentinel.core.arrays import BoolArray, FloatArray
from sentinel.core.scoring.groups import FULL_INK, FULL_RGB, laid_inks

WHOLE = 0.995
GREY_FROM = 3
RIDGE = 0.01
"""Keeps the slopes of a small chart calm."""
MOST_PAIRED = 4
"""Of so many channels, those used most, all pairs have a corner of their own."""


def device_shapes(amounts: FloatArray, paper: BoolArray, aim: FloatArray) -> FloatArray:
    """Shapes (n, k) of about unit size: of every channel its whole scale and its middle tones, the greys they make
    together, the corners of two.

    `amounts` (n, channels) are those of `amounts_of`; without any the aim's colours (n, 3) stand for them. `paper` (n,)
    are the patches without ink.
    """
    if not amounts.any():
        return aim_shapes(aim, paper)
    return _vanishing(np.stack(list(_of_channels(amounts)), axis=1), paper)


def amounts_of(inks: tuple[str, ...], device: FloatArray) -> FloatArray:
    """How much of each channel is used, 0 to 1, of RGB the light taken away: (n, channels), none where an amount is not
    known."""
    if not inks or np.isnan(device).any():
        return np.zeros((len(device), 0))
    return np.clip(shares_of(inks, device[:, : len(inks)]), 0.0, 1.0)


def shares_of(inks: tuple[str, ...], device: FloatArray) -> FloatArray:
    """Of the whole of each channel, of RGB the light taken away, as the file has it: (n, channels)."""
    return 1 - device / FULL_RGB if laid_inks(inks) != inks else device / FULL_INK


def channel_moves(amounts: FloatArray, aim: FloatArray) -> FloatArray:
    """What more of each channel, and of the grey of all, does to the aim's colours: Lab (n, 3, moves), three a channel:
    in its middle tones, in its light ones against its dark ones, and everywhere.

    The way each channel leads is the slope of a smooth function of `amounts` (n, channels) fitted to the aim (n, 3).
    """
    slopes = _slopes(amounts, aim)
    scales = [(amount, slopes[:, :, number]) for number, amount in enumerate(amounts.T)]
    if amounts.shape[1] >= GREY_FROM:
        scales.append((amounts[:, :GREY_FROM].min(axis=1), slopes[:, :, :GREY_FROM].sum(axis=2)))
    moves = [
        shape[:, None] * slope
        for amount, slope in scales
        for shape in (_middle(amount), _middle(amount) * (1 - 2 * amount) * 2, amount)
    ]
    return np.stack(moves, axis=2)


def _slopes(amounts: FloatArray, aim: FloatArray) -> FloatArray:
    """Of each channel at each patch: Lab (n, 3, channels) for a whole of the channel more."""
    count = amounts.shape[1]
    first_powers = np.eye(count, dtype=int)
    together = (1, 2, 3) if GREY_FROM <= count <= MOST_PAIRED else (1, 2)
    exponents = np.array(
        [
            np.zeros(count, dtype=int),
            *(channel * power for channel in first_powers for power in (2, 3)),
            *(sum(some) for number in together for some in itertools.combinations(first_powers, number)),
        ]
    )
    terms = (amounts[:, None, :] ** exponents).prod(axis=2)
    normal = terms.T @ terms + RIDGE * np.eye(len(exponents))
    fitted = np.linalg.solve(normal, terms.T @ aim)
    slopes = []
    for channel in range(count):
        lower = np.maximum(exponents - first_powers[channel], 0)
        slope = exponents[:, channel] * (amounts[:, None, :] ** lower).prod(axis=2)
        slopes.append(slope @ fitted)
    return np.stack(slopes, axis=2)


def full_tones(inks: tuple[str, ...], device: FloatArray) -> BoolArray:
    """The patches (n,) of which every channel is used wholly or not at all, and one is."""
    amounts = amounts_of(inks, device)
    whole = amounts >= WHOLE
    return np.asarray((whole | (amounts <= 1 - WHOLE)).all(axis=1) & whole.any(axis=1))


def aim_shapes(aim: FloatArray, paper: BoolArray) -> FloatArray:
    """Coarser ones (n, 5) over the aim's colours: depth, middle tones, and where a* and b* lead."""
    white = aim[paper].mean(axis=0) if paper.any() else aim[np.argmax(aim[:, 0])]
    depth = np.clip((white[0] - aim[:, 0]) / max(white[0] - aim[:, 0].min(), 1.0), 0.0, 1.0)
    a, b = (aim[:, 1:] - white[1:]).T / 60.0
    return _vanishing(np.stack([depth, _middle(depth), a, b, a * b], axis=1), paper)


def _of_channels(amounts: FloatArray) -> Iterator[FloatArray]:
    for amount in amounts.T:
        yield amount
        yield _middle(amount)
    if amounts.shape[1] >= GREY_FROM:
        grey = amounts[:, :GREY_FROM].min(axis=1)
        yield grey
        yield _middle(grey)
    used = np.sort(np.argsort(-amounts.sum(axis=0), kind="stable")[:MOST_PAIRED])
    for first, second in itertools.combinations(used.tolist(), 2):
        yield amounts[:, first] * amounts[:, second]


def _middle(amount: FloatArray) -> FloatArray:
    """1 at the middle of a scale, nothing at both ends."""
    return 4 * amount * (1 - amount)


def _vanishing(shapes: FloatArray, paper: BoolArray) -> FloatArray:
    return np.where(paper[:, None], 0.0, shapes)
