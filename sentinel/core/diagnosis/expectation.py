"""What is expected of a sheet with a fault, learnt from causes that people told with evidence: a Dirichlet over causes.

Nothing is learnt of how often a sheet is healthy: of healthy sheets nobody tells.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

HEALTHY = "healthy"

PRIOR_CASES = 20.0
"""So many told cases weigh as much as the configured weights together."""

LEAST = 0.5
"""However rarely a cause was told, it is expected with this share of its configured weight: that nobody told of it is
weak evidence, since some causes are seen sooner than others, and what was never met here may still come."""


def posterior_means(weights: Mapping[str, float], cases: Mapping[str, int]) -> dict[str, float]:
    """The share of each cause among faults, 1 in all, after `cases` told by cause.

    The prior is a Dirichlet distribution with the parameters a_c = PRIOR_CASES w_c / sum(w), `weights` w without that
    of HEALTHY; after n_c cases of each cause it is one with a_c + n_c, of which the mean is (a_c + n_c) / sum(a + n):
    Gelman et al., Bayesian Data Analysis, 3rd edition, section 3.4 (from memory). Cases of a cause without a weight are
    left out.
    """
    causes = {cause: weight for cause, weight in weights.items() if cause != HEALTHY}
    whole = sum(causes.values())
    after = {cause: PRIOR_CASES * weight / whole + cases.get(cause, 0) for cause, weight in causes.items()}
    total = sum(after.values())
    return {cause: count / total for cause, count in after.items()}


def learnt(weights: Mapping[str, float], cases: Mapping[str, int], guarded: Collection[str]) -> dict[str, float]:
    """By cause the factor its configured weight takes; none where nothing was told.

    Of causes that withhold a verdict or forbid recalibrating (`guarded`), whatever was told:

    - none is expected less than configured: no factor below 1;
    - none loses against a cause that is not guarded: no factor below theirs. With the next line that means, by Bayes'
      rule, that no sheet with one fault or none points less to all of them together than it did;
    - the weights of all causes add to what they did, so that a sheet is as likely to be healthy as configured.
    """
    causes = {cause: weight for cause, weight in weights.items() if cause != HEALTHY}
    if not any(cases.get(cause) for cause in causes):
        return {}
    whole = sum(causes.values())
    gains = {cause: mean * whole / causes[cause] for cause, mean in posterior_means(weights, cases).items()}
    most = max((gain for cause, gain in gains.items() if cause not in guarded), default=0.0)
    gains = {cause: max(gain, most) if cause in guarded else gain for cause, gain in gains.items()}
    return _balanced(causes, gains, {cause: 1.0 if cause in guarded else LEAST for cause in causes})


def _balanced(weights: Mapping[str, float], gains: Mapping[str, float], least: Mapping[str, float]) -> dict[str, float]:
    """Factors in the ratio of the gains, none below its least, with which the weights add to what they did."""
    held: set[str] = set()
    while True:
        rest = weights.keys() - held
        room = sum(weights.values()) - sum(weights[cause] * least[cause] for cause in held)
        scale = room / sum(weights[cause] * gains[cause] for cause in rest)
        below = {cause for cause in rest if scale * gains[cause] < least[cause]}
        if not below or below == rest:
            return {cause: least[cause] if cause in held else scale * gains[cause] for cause in weights}
        held |= below
