"""Charts that are driven by R, G and B through a made-up profile, and charts of inks some of which the driver splits
into light and dark ones; the diagnosis sees neither."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sentinel.core.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class Profile:
    """Light taken away becomes cyan, magenta and yellow, part of their grey becomes black, and light inks, where there
    are some, carry the highlights of theirs.

    `curve` (3,) are exponents, `balance` (3,) how much of each makes grey, black begins at `start` of the grey and
    takes `replaced` of it away, `limit` is the most ink in all.
    """

    inks: tuple[str, ...]
    curve: tuple[float, ...]
    balance: tuple[float, ...]
    start: float
    replaced: float
    black_curve: float
    limit: float
    split: float = 0.5

    def amounts(self, rgb: FloatArray) -> FloatArray:
        """Amounts (patches, inks) of 0 to 1 for R, G, B (patches, 3) of 0 to 255."""
        taken = np.clip(1.0 - rgb / 255.0, 0.0, 1.0)
        grey = taken.min(axis=1, keepdims=True)
        black = np.clip((grey - self.start) / (1.0 - self.start), 0.0, 1.0) ** self.black_curve
        balanced = taken - grey * (1.0 - np.array(self.balance)) * (1.0 - black)
        colours = np.clip(balanced - self.replaced * black * grey, 0.0, 1.0) ** np.array(self.curve)
        total = colours.sum(axis=1, keepdims=True) + black
        colours = colours * np.clip((self.limit - black) / np.maximum(total - black, 1e-9), 0.0, 1.0)
        laid = dict(zip("CMYK", (*colours.T, black[:, 0]), strict=True))
        for light, dark in (("LC", "C"), ("LM", "M")):
            if light in self.inks:
                wanted = laid[dark]
                laid[dark] = np.clip((wanted - self.split) / (1.0 - self.split), 0.0, 1.0) ** 1.2
                rising = np.clip(wanted / self.split, 0.0, 1.0)
                laid[light] = 0.9 * rising * (1.0 - 0.6 * laid[dark])
        return np.stack([laid[ink] for ink in self.inks], axis=1)


def drawn_profile(rng: np.random.Generator, inks: tuple[str, ...]) -> Profile:
    """A profile for C, M, Y, K, with or without LC and LM."""
    return Profile(
        inks,
        tuple(rng.uniform(0.9, 1.3, 3).tolist()),
        (1.0, *rng.uniform(0.8, 0.92, 2).tolist()),
        float(rng.uniform(0.1, 0.5)),
        float(rng.uniform(0.4, 0.9)),
        float(rng.uniform(1.2, 2.2)),
        float(rng.uniform(2.6, 3.4)),
        float(rng.uniform(0.4, 0.6)),
    )


@dataclass(frozen=True, slots=True)
class Driver:
    """Of each ink in `split` (first its light, then its dark one; columns of the hidden inks) a chart's amount becomes
    both: the light ink rises with a power of the amount to `most` at `until` and falls back to `left` at the full tone;
    the dark one begins at `begins` and rises by a power. Both lie on the paper over a wide range of tones."""

    inks: int
    split: tuple[tuple[int, int], ...]
    rise: float
    until: float
    most: float
    left: float
    begins: float
    power: float

    def amounts(self, device: FloatArray) -> FloatArray:
        """Hidden amounts (patches, inks) of 0 to 1 of a chart's (patches, columns) in percent, dark inks first."""
        laid = np.zeros((len(device), self.inks))
        laid[:, : device.shape[1]] = device / 100.0
        for light, dark in self.split:
            wanted = laid[:, dark].copy()
            rising = self.most * np.clip(wanted / self.until, 0.0, 1.0) ** self.rise
            falling = np.clip((wanted - self.until) / (1.0 - self.until), 0.0, 1.0)
            laid[:, light] = rising + (self.left - self.most) * falling * falling * (3.0 - 2.0 * falling)
            laid[:, dark] = np.clip((wanted - self.begins) / (1.0 - self.begins), 0.0, 1.0) ** self.power
        return laid


def drawn_driver(rng: np.random.Generator, inks: int, split: tuple[tuple[int, int], ...]) -> Driver:
    """A driver of its own."""
    return Driver(
        inks,
        split,
        float(rng.uniform(0.7, 1.1)),
        float(rng.uniform(0.35, 0.6)),
        float(rng.uniform(0.7, 0.95)),
        float(rng.uniform(0.0, 0.4)),
        float(rng.uniform(0.15, 0.4)),
        float(rng.uniform(0.9, 1.4)),
    )
