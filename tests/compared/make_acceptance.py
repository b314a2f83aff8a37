"""Random cases of results about a lot, computed by SciPy, which the domain must reproduce.

    python3 -m venv env && env/bin/pip install -r requirements.txt
    env/bin/python make_acceptance.py

writes acceptance.jsonl (tails of gamma, negative binomial, lognormal and normal distributions by
their mean and variance) and lots.jsonl (how likely a lot is over a limit, by Bayes' rule), a JSON
object a line: decimal texts in, numbers out. Seed fixed; made with SciPy 1.17.1, NumPy 2.4.6.
"""

import json
from pathlib import Path

import numpy as np
from scipy import integrate, stats

np.seterr(all="ignore")

SEED = 20261126
FOLDER = Path(__file__).parent
rng = np.random.default_rng(SEED)


def text(value, figures=5):
    """A plain decimal of so many significant figures."""
    return np.format_float_positional(float(f"{value:.{figures - 1}e}"), trim="-")


def write(topic, cases):
    lines = [json.dumps(case, separators=(",", ":")) for case in cases]
    (FOLDER / f"{topic}.jsonl").write_text("\n".join(lines) + "\n")
    print(topic, len(lines))


def with_moments(kind, mean, variance):
    """The distribution that has this mean and variance."""
    if kind == "gamma":
        return stats.gamma(mean**2 / variance, scale=variance / mean)
    if kind == "lognormal":
        square = np.log1p(variance / mean**2)
        return stats.lognorm(np.sqrt(square), scale=np.exp(np.log(mean) - square / 2))
    if kind == "negative-binomial":
        return stats.nbinom(mean**2 / (variance - mean), mean / variance)
    return stats.norm(mean, np.sqrt(variance))


KINDS = ["gamma", "negative-binomial", "lognormal", "normal"]


def acceptance():
    cases = []
    for turn in range(600):
        kind = KINDS[turn % 4]
        mean = text(10 ** rng.uniform(0, 3.5))
        cv = 10 ** rng.uniform(-1, 0.4)
        variance = text(max((cv * float(mean)) ** 2, 1.2 * float(mean)))
        limit = text(float(mean) * 10 ** rng.uniform(-1, 0.6))
        known = with_moments(kind, float(mean), float(variance))
        at = np.floor(float(limit)) if kind == "negative-binomial" else float(limit)
        cases.append({
            "distribution": kind, "mean": mean, "variance": variance, "limit": limit,
            "up_to": float(known.cdf(at)), "above": float(known.sf(at)),
        })
    return cases


def lots():
    cases = []
    for turn in range(500):
        kind = ["gamma", "lognormal", "normal"][turn % 3]
        coefficient, exponent = text(10 ** rng.uniform(-0.5, 0.8)), text(rng.uniform(0.8, 1.3), 3)
        limit = text(10 ** rng.uniform(0.7, 1.8), 3)
        seen = text(float(limit) * 10 ** rng.uniform(-0.6, 0.5), 3)
        largest = text(max(float(limit), float(seen)) * rng.uniform(3, 6), 3)

        def likelihood(c):
            variance = float(coefficient) * c ** float(exponent)
            return with_moments(kind, c, variance).pdf(float(seen))

        if turn % 2:
            before = {"prior": "flat", "largest": largest}
            density, ends = likelihood, (1e-9, float(limit), float(largest))
        else:
            median, spread = text(float(limit) * rng.uniform(0.2, 1.5), 3), text(rng.uniform(1.5, 4), 3)
            before = {"prior": "lognormal", "median": median,
                      "geometric_standard_deviation": spread}
            deviation = np.log(float(spread))

            def density(z, median=float(median), deviation=deviation):
                return stats.norm.pdf(z) * likelihood(median * np.exp(deviation * z))

            cut = np.log(float(limit) / float(median)) / deviation
            ends = (-8.0, float(cut), 8.0)
        def over(low, high):
            edges = np.linspace(low, high, 61)
            return sum(integrate.fixed_quad(density, one, other, n=60)[0]
                       for one, other in zip(edges[:-1], edges[1:]))

        below, above = over(ends[0], ends[1]), over(ends[1], ends[2])
        cases.append({
            "distribution": kind, "coefficient": coefficient, "exponent": exponent,
            "limit": limit, "seen": seen, "before": before,
            "probability_above": above / (below + above),
        })
    return cases


if __name__ == "__main__":
    write("acceptance", acceptance())
    write("lots", lots())
