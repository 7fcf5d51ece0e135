"""The filter against the same model solved at once, and what it is to learn of invented printers."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
import pytest

from sentinel.core.arrays import FloatArray
from sentinel.core.drift.crossing import normal_probability
from sentinel.core.drift.wear import LEVEL, OFFSETS, RATE, WEAR, Pace, PrinterWear, WearRules

ONE_PACE = WearRules(paces=(Pace(0.1, 0.2, 0.1),), misread=1e-300, days_between_jumps=1e300)
"""Linear and normal: no other pace, nothing untold."""
ONE_INK = np.zeros(2, dtype=np.intp)
SCATTER = np.array([0.4, 0.3])


@dataclass
class _Sources:
    """Independent or correlated normal quantities of which everything else is a sum: row vectors over all of them."""

    covariances: list[FloatArray] = field(default_factory=list)

    def new(self, covariance: FloatArray) -> list[dict[int, float]]:
        first = sum(map(len, self.covariances))
        self.covariances.append(covariance)
        return [{first + place: 1.0} for place in range(len(covariance))]

    def one(self, variance: float) -> dict[int, float]:
        return self.new(np.array([[variance]]))[0]


def plus(*terms: tuple[float, dict[int, float]]) -> dict[int, float]:
    total: dict[int, float] = {}
    for times, row in terms:
        for place, value in row.items():
            total[place] = total.get(place, 0.0) + times * value
    return total


def integrated(rules: WearRules, rate: float, span: float) -> FloatArray:
    """The covariance that comes into level and rate in a span, by Gauss-Legendre quadrature of the white noise that
    drives the rate (Uhlenbeck and Ornstein, Phys. Rev. 36, 1930)."""
    places, weights = np.polynomial.legendre.leggauss(40)
    ago, strength = 0.5 * span * (places + 1.0), 2.0 * rate**2 / rules.memory * 0.5 * span
    reach, left = rules.memory * (1.0 - np.exp(-ago / rules.memory)), np.exp(-ago / rules.memory)
    both = np.array([[reach**2, reach * left], [reach * left, left**2]])
    found: FloatArray = strength * (both * weights).sum(axis=2)
    return found


def solved_at_once(
    times: FloatArray, conditions: list[int], values: FloatArray, recalibrated: tuple[int, int, float]
) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of level, rate and three offsets behind all readings, by Bayes' rule on all of them together.

    `recalibrated` is before which reading which condition was set to what.
    """
    pace, sources, before = ONE_PACE.paces[0], _Sources(), 0.0
    level: dict[int, float] = {}
    rate = sources.one(pace.rate**2)
    offsets = [sources.one(ONE_PACE.first_offset**2) for _ in range(3)]
    aims, rows, read = np.zeros(3), [], []
    for number, (time, condition) in enumerate(zip(times, conditions, strict=True)):
        span, left = time - before, np.exp(-(time - before) / ONE_PACE.memory)
        new_level, new_rate = sources.new(integrated(ONE_PACE, pace.rate, span))
        walked = sources.one(pace.common_walk**2 * span)
        level = plus((1.0, level), (ONE_PACE.memory * (1.0 - left), rate), (1.0, new_level), (1.0, walked))
        rate, before = plus((left, rate), (1.0, new_rate)), time
        offsets = [plus((1.0, each), (1.0, sources.one(pace.own_walk**2 * span))) for each in offsets]
        if number == recalibrated[0]:
            offsets[recalibrated[1]] = plus((-1.0, level), (1.0, sources.one(ONE_PACE.recalibrated**2)))
            aims[recalibrated[1]] = recalibrated[2]
        rows.append(plus((1.0, level), (1.0, offsets[condition])))
        read.append(values[number] - aims[condition])
    size = sum(map(len, sources.covariances))
    prior, place = np.zeros((size, size)), 0
    for each in sources.covariances:
        prior[place : place + len(each), place : place + len(each)] = each
        place += len(each)
    seen, asked = (
        np.array([[row.get(column, 0.0) for column in range(size)] for row in wanted])
        for wanted in (rows, [level, rate, *offsets])
    )
    gain = asked @ prior @ seen.T @ np.linalg.inv(seen @ prior @ seen.T + np.eye(len(seen)))
    return gain @ np.array(read) + [0.0, 0.0, *aims], asked @ prior @ asked.T - gain @ seen @ prior @ asked.T


def test_the_filter_comes_to_what_bayes_rule_says_of_all_readings_together() -> None:
    rng = np.random.default_rng(1)
    times, conditions = np.sort(rng.uniform(0.0, 60.0, 14)), rng.integers(0, 3, 14).tolist()
    values, set_to = rng.normal(0.0, 1.0, (14, 2)), 0.2
    wear = PrinterWear(3, ONE_INK, SCATTER, 0.0, ONE_PACE)
    for number, time in enumerate(times):
        wear.go_to(float(time))
        if number == 6:
            wear.recalibrated([1], np.full((1, 2), set_to))
        wear.read(conditions[number], values[number])
    for figure in (0, 1):
        mean, covariance = solved_at_once(
            times, conditions, values[:, figure] / SCATTER[figure], (6, 1, set_to / SCATTER[figure])
        )
        assert wear.mean[0, figure] == pytest.approx(mean, abs=1e-9)
        assert wear.covariance[0, 0] == pytest.approx(covariance, abs=1e-9)


def test_where_a_print_lies_ahead_is_where_the_state_comes_to() -> None:
    wear = worn(rate=0.05)
    mean, sigma = wear.ahead(2, np.array([0.0, 30.0]))
    wear.go_to(wear.day + 30.0)
    later, after = wear.ahead(2, np.array([0.0]))
    assert mean[:, :, 1] == pytest.approx(later[:, :, 0])
    assert sigma[:, :, 1] == pytest.approx(after[:, :, 0])


def plainly_read(wear: PrinterWear, condition: int, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What a reading makes of mean, covariance and weight by the rules of the module's head, each hypothesis by itself
    with whole matrices, and merged by mean and covariance."""
    rules, at, size = wear.rules, OFFSETS + condition, wear.mean.shape[2]
    rows = np.zeros((wear.weight.shape[1], size))
    rows[:, LEVEL], rows[:, at] = wear.sensitivity[condition], 1.0
    steps = [np.zeros((size, size)) for _ in range(3)]
    steps[1][at, at] = steps[2][LEVEL, LEVEL] = rules.jump**2
    own, common = (
        1.0 - np.exp(-max(wear.day - since, 0.5) / rules.days_between_jumps)
        for since in (wear.read_at[condition], wear.moved_at)
    )
    prior = np.array([(1.0 - own) * (1.0 - common), own * (1.0 - common), common])
    paces, inks = wear.weight.shape
    known, wide = ~np.isnan(values), 1.0 + rules.misread_size**2
    error = [values / wear.scatter - (mean * rows[wear.ink_of]).sum(axis=1) for mean in wear.mean]
    of_ink = [np.flatnonzero(known & (wear.ink_of == ink)) for ink in range(inks)]
    likely, astray = np.zeros((paces, inks, 3)), 1.0
    square = np.array([[np.mean(each[of] ** 2) if len(of) else 0.0 for of in of_ink] for each in error])
    for ink, (of, h) in enumerate(zip(of_ink, rows, strict=True)):
        told = min(len(of), 2)
        for pace in range(paces):
            for branch, step in enumerate(steps):
                variance = h @ (wear.covariance[pace, ink] + step) @ h + 1.0
                fit = np.exp(-0.5 * told * square[pace, ink] / variance) / variance ** (told / 2)
                likely[pace, ink, branch] = prior[branch] * fit
        astray *= np.exp(-0.5 * told * square[:, ink].min() / wide) / wide ** (told / 2)
    fitted = float(np.prod((wear.weight * likely.sum(axis=2)).sum(axis=0)))
    valid = (1 - rules.misread) * fitted / ((1 - rules.misread) * fitted + rules.misread * astray)
    weight = wear.weight**rules.forgetting * likely.sum(axis=2) ** valid
    mean, covariance = wear.mean.copy(), wear.covariance.copy()
    for pace in range(paces):
        for ink, (of, h) in enumerate(zip(of_ink, rows, strict=True)):
            if len(of):
                share = likely[pace, ink] / likely[pace, ink].sum()
                before, spread = wear.covariance[pace, ink], square[pace, ink]
                jumped = [before + step for step in steps]
                gains = [each @ h / (h @ each @ h + 1.0) for each in jumped]
                gain = sum(one * each for one, each in zip(share, gains, strict=True))
                after = sum(
                    one * (each - np.outer(k, each @ h) + spread * np.outer(k - gain, k - gain))
                    for one, each, k in zip(share, jumped, gains, strict=True)
                )
                merged = valid * after + (1 - valid) * before + valid * (1 - valid) * spread * np.outer(gain, gain)
                covariance[pace, ink] = merged
                mean[pace, of] += valid * error[pace][of, None] * gain
    return mean, covariance, weight / weight.sum(axis=0)


@pytest.mark.parametrize("far", [0.5, 4.0, 9.0])
def test_a_reading_leaves_what_its_hypotheses_leave_one_by_one(far: float) -> None:
    rng, inks = np.random.default_rng(5), np.array([0, 1, 0, 0, 2], dtype=np.intp)
    shown = np.array([[1.0, 0.8, 1.3], [0.7, 1.2, 0.9], [1.3, 1.1, 0.6]])
    wear = PrinterWear(3, inks, np.array([0.4, 0.3, 0.5, 0.4, 0.2]), 0.0, sensitivity=shown)
    for day in range(9):
        wear.go_to(day * 1.7)
        values = rng.normal(0.0, 0.4, 5)
        values[day % 5] = np.nan
        if day == 8:
            values[[0, 2, 3]] += far
            values[4] = np.nan
        mean, covariance, weight = plainly_read(wear, day % 3, values)
        wear.read(day % 3, values)
        assert wear.mean == pytest.approx(mean, abs=1e-9)
        assert wear.covariance == pytest.approx(covariance, abs=1e-9)
        assert wear.weight == pytest.approx(weight, abs=1e-9)


def test_a_print_is_outside_as_its_paces_say_one_by_one() -> None:
    wear = worn(rate=0.05)
    wear.go_to(wear.day + 2.5)
    bounds, days = np.array([[-1.0, 3.0], [-np.inf, 1.5]]), np.array([0.0, 7.0, 40.0])
    found = wear.outside(1, bounds, days)
    mean, sigma = wear.ahead(1, days)
    since = 2 * wear.day - wear.moved_at - wear.read_at[1]
    for figure, day in product(range(2), range(3)):
        jumped = 1.0 - np.exp(-(since + 2 * days[day]) / wear.rules.days_between_jumps)
        likely = 0.0
        for pace in np.flatnonzero(wear.weight.max(axis=1) > 1e-4):
            middle, narrow = mean[pace, figure, day], sigma[pace, figure, day]
            for share, width in ((1 - jumped, narrow), (jumped, np.hypot(narrow, 6.0 * SCATTER[figure]))):
                aside = np.array([(bounds[figure, 0] - middle) / width, (middle - bounds[figure, 1]) / width])
                likely += wear.weight[pace, 0] * share * normal_probability(aside).sum()
        assert found[figure, day] == pytest.approx(likely, abs=1e-9)


def worn(rate: float, days: int = 60, recalibrated_on: int | None = None, seed: int = 3) -> PrinterWear:
    """Four conditions of a printer that wears by so much a day, one read each second day."""
    rng, wear = np.random.default_rng(seed), PrinterWear(4, ONE_INK, SCATTER, 0.0)
    own, set_off = rng.normal(0.0, 0.3, (4, 2)), np.zeros(4)
    for day in range(0, days, 2):
        wear.go_to(float(day))
        if day == recalibrated_on:
            wear.recalibrated([0], np.zeros((1, 2)))
            set_off[0], own[0] = rate * day, 0.0
        condition = day // 2 % 4
        wear.read(condition, rate * day - set_off[condition] + own[condition] + rng.normal(0.0, SCATTER))
    return wear


@pytest.mark.parametrize("rate", [-0.06, 0.03, 0.1])
def test_a_wear_that_all_stocks_show_is_learnt_from_all_of_them(rate: float) -> None:
    """Drawn towards no wear, the more so the slower it is against the scatter."""
    found, error = worn(rate).rates()
    assert ((found / rate > 0.4) & (found / rate < 1.4)).all()
    assert (np.abs(found - rate) < 3 * error).all()


def test_the_wear_goes_on_after_a_recalibration_of_one_stock() -> None:
    with_one, without = worn(0.08, recalibrated_on=40), worn(0.08)
    assert with_one.rates()[0] == pytest.approx(without.rates()[0], rel=0.25)
    bounds = np.tile([-3.0, 3.0], (2, 1))
    soon = with_one.outside(0, bounds, np.array([0.0, 60.0]))
    assert soon[:, 0].max() < 0.2
    assert soon[:, 1].min() > 0.5  # 4.8 at that pace; it is expected to slow down


def test_a_step_on_one_stock_is_looked_for_on_the_others() -> None:
    """Half of all steps are the printer's: the others may well have moved, and are less sure than before."""
    wear, bounds = worn(0.0), np.tile([-2.0, 2.0], (2, 1))
    before = wear.outside(1, bounds, np.zeros(1)).max()
    wear.go_to(wear.day + 1.0)
    wear.read(0, np.array([2.5, 2.5]))
    assert wear.outside(1, bounds, np.zeros(1)).max() > 5 * before
    wear.read(1, np.array([0.0, 0.0]))
    assert wear.outside(1, bounds, np.zeros(1)).max() < 0.1
    assert wear.outside(0, bounds, np.zeros(1)).max() > 0.1  # it was more likely misread


def test_a_recalibration_sets_off_as_much_as_the_stock_shows() -> None:
    shown = np.array([[1.4], [0.6]])
    wear = PrinterWear(2, ONE_INK, SCATTER, 0.0, sensitivity=shown)
    for day in range(40):
        wear.go_to(float(day))
        wear.read(day % 2, shown[day % 2] * 0.06 * day * np.ones(2))
    before, _ = wear.ahead(1, np.array([0.0, 10.0]))
    assert np.ptp(before, axis=2) == pytest.approx(0.6 / 1.4 * np.ptp(wear.ahead(0, np.array([0.0, 10.0]))[0], axis=2))
    wear.recalibrated([0], np.zeros((1, 2)))
    mean, sigma = wear.ahead(0, np.zeros(1))
    assert mean == pytest.approx(0.0, abs=1e-9)
    assert sigma[:, :, 0] == pytest.approx(np.tile(0.8 * SCATTER, (len(mean), 1)))
    assert wear.ahead(1, np.array([0.0, 10.0]))[0] == pytest.approx(before)


def test_what_readings_ahead_are_expected_to_be_is_what_the_filter_makes_of_them_one_by_one() -> None:
    """The chain rule: their joint density is the product of each one's, given those before it."""
    rng, conditions, days = np.random.default_rng(6), np.array([0, 1, 0, 2]), np.array([0.5, 1.5, 4.0, 9.0])
    shown = np.array([[1.3], [0.8], [1.0]])
    wear = PrinterWear(3, np.zeros(1, dtype=np.intp), np.array([0.4]), 0.0, ONE_PACE, shown)
    for day in range(12):
        wear.go_to(float(day))
        wear.read(day % 3, rng.normal(0.0, 0.5, 1))
    mean, covariance = wear.expected(conditions, days)
    values = mean[:, 0] + rng.normal(0.0, 1.5, 4)
    error = values - mean[:, 0]
    joint = error @ np.linalg.solve(covariance[0], error) + np.log(np.linalg.det(covariance[0]))
    one_by_one, now = 0.0, wear.day
    for condition, day, value in zip(conditions.tolist(), days.tolist(), values.tolist(), strict=True):
        wear.go_to(now + day)
        level, sigma = (each[0, 0, 0] / 0.4 for each in wear.ahead(condition, np.zeros(1)))
        variance = sigma**2 + 1.0
        one_by_one += (value - level) ** 2 / variance + np.log(variance)
        wear.read(condition, np.array([value * 0.4]))
    assert joint == pytest.approx(one_by_one, abs=1e-9)


def test_readings_of_more_noise_are_readings_of_a_larger_scatter_by_a_printer_that_moves_as_far() -> None:
    rng, more, known = np.random.default_rng(8), 1.5, WEAR
    less = replace(
        known,
        paces=tuple(Pace(*(each / more for each in pace)) for pace in known.paces),
        **{
            name: getattr(known, name) / more
            for name in ("first_offset", "recalibrated", "jump", "small_jump", "misread_size")
        },
    )
    scatter, ink_of = np.array([0.3, 0.5, 0.4]), np.array([0, 0, 1])
    noisy = PrinterWear(2, ink_of, scatter, 0.0, known, noise=np.full(2, more**2))
    plain = PrinterWear(2, ink_of, more * scatter, 0.0, less)
    for day in range(1, 40):
        values = rng.normal(0.0, 0.6, 3) + 0.03 * day
        for wear in (noisy, plain):
            wear.go_to(float(day))
            if day == 25:
                wear.recalibrated([0], np.zeros((1, 3)))
        assert noisy.read(day % 2, values) == pytest.approx(plain.read(day % 2, values))
    for found, expected in zip(noisy.ahead(0, np.array([0.0, 9.0])), plain.ahead(0, np.array([0.0, 9.0])), strict=True):
        assert found == pytest.approx(expected)
    conditions, days = np.array([0, 1]), np.array([1.0, 3.0])
    assert noisy.expected(conditions, days)[1] == pytest.approx(more**2 * plain.expected(conditions, days)[1])


def test_one_sheet_that_lies_apart_alone_is_hardly_believed() -> None:
    wear = worn(0.0)
    wear.go_to(wear.day + 1.0)
    assert wear.read(3, np.array([0.1, -0.2])) > 0.95
    assert wear.read(3, np.array([12.0, -9.0])) < 0.6


def test_what_was_told_makes_less_sure_of_what_it_touches_alone() -> None:
    inks = np.array([0, 1], dtype=np.intp)
    wear = PrinterWear(2, inks, SCATTER, 0.0)
    for day in range(20):
        wear.go_to(float(day))
        wear.read(day % 2, np.zeros(2))
    _, before = wear.ahead(0, np.zeros(1))
    wear.jumped(inks=[1])
    _, heads = wear.ahead(0, np.zeros(1))
    assert heads[:, 0] == pytest.approx(before[:, 0])
    assert (heads[:, 1] > 2 * before[:, 1]).all()
    wear.moved([1])
    assert wear.ahead(0, np.zeros(1))[1] == pytest.approx(heads)


def test_a_figure_that_was_not_read_stays_where_it_was() -> None:
    inks = np.array([0, 1], dtype=np.intp)
    wear = PrinterWear(2, inks, SCATTER, 0.0)
    before = wear.mean[:, 1].copy(), wear.covariance[:, 1].copy()
    wear.read(0, np.array([1.0, np.nan]))
    assert (wear.mean[:, 1] == before[0]).all()
    assert (wear.covariance[:, 1] == before[1]).all()
    assert wear.mean[:, 0, [LEVEL, OFFSETS]].sum() != 0.0
    assert wear.read(0, np.full(2, np.nan)) == 1.0
    assert RATE != LEVEL


def test_covariances_stay_symmetric_and_positive_over_years() -> None:
    rng, wear = np.random.default_rng(8), PrinterWear(6, ONE_INK, SCATTER, 0.0)
    for day in range(2000):
        wear.go_to(float(day))
        wear.read(int(rng.integers(0, 6)), rng.normal(0.0, 0.5, 2) * (20 if rng.random() < 0.02 else 1))
        if day % 97 == 0:
            wear.recalibrated([day % 6], np.zeros((1, 2)))
    assert wear.covariance == pytest.approx(np.swapaxes(wear.covariance, 2, 3), abs=1e-9)
    assert np.linalg.eigvalsh(wear.covariance).min() > -1e-9
    assert np.isfinite(wear.mean).all()
