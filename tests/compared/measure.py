"""The other side of `cargo bench -p assize-domain --bench numbers`: NumPy and SciPy, timed.

    echo fits | env/bin/python measure.py

answers each line that it is asked, `fits`, `slopes` or `draws`, with a line of JSON: the seconds
that it took, on one thread and without reading the inputs, and the figures that came of it.
"""

import os

os.environ["OMP_NUM_THREADS"] = "1"

import json
import platform
import sys
import time
import warnings
from pathlib import Path

import numpy as np
import scipy
from scipy import optimize, stats

warnings.filterwarnings("ignore")
FOLDER = Path(__file__).parent
DRAWS = 1_000_000


def floats(values):
    return np.array([float(value) for value in values])


# A thousand logistic curves. The derivatives are given, as the domain's fit has them too: without
# them curve_fit takes longer.


def curve(u, b, c, d, centre):
    return c + (d - c) / (1 + np.exp(b * (u - centre)))


def derivatives(u, b, c, d, centre):
    t = u - centre
    share = 1 / (1 + np.exp(b * t))
    steep = (d - c) * share * (1 - share)
    return np.column_stack((-steep * t, 1 - share, share, steep * b))


def guess(u, y):
    """What the domain's fit does before it begins: a line through the logits."""
    margin = 0.03 * np.ptp(y)
    low, high = y.min() - margin, y.max() + margin
    slope, intercept = np.polyfit(u, np.log((high - y) / (y - low)), 1)
    return slope, low, high, -intercept / slope


def fit(x, y):
    u = np.log(x)
    found, covariance = optimize.curve_fit(
        curve, u, y, p0=guess(u, y), jac=derivatives, maxfev=20000
    )
    return found, np.sqrt(np.diag(covariance))


def read_curves():
    lines = (FOLDER / "logistic.jsonl").read_text().splitlines()
    cases = [json.loads(line)["input"] for line in lines]
    cases = [(floats(case["x"]), floats(case["y"])) for case in cases]
    return [cases[at % len(cases)] for at in range(1000)]


def fits(curves):
    return [fit(x, y) for x, y in curves]


def fits_figures(found):
    """Each parameter with its standard error."""
    return np.array([np.column_stack(one).ravel() for one in found]).ravel()


# Passing and Bablok's line: the fastest of three ways tried. With triu_indices NumPy took three
# quarters longer, with subtract.outer a quarter.


def read_pairs():
    both = json.loads((FOLDER / "pairs.json").read_text())
    return floats(both["x"]), floats(both["y"])


def slopes(pairs, confidence=0.95):
    x, y = pairs
    n = len(x)
    all_slopes, at = np.empty(n * (n - 1) // 2), 0
    with np.errstate(divide="ignore", invalid="ignore"):
        for apart in range(1, n):
            end = at + n - apart
            np.divide(y[apart:] - y[:-apart], x[apart:] - x[:-apart], out=all_slopes[at:end])
            at = end
    used = all_slopes[(all_slopes != -1) & ~np.isnan(all_slopes)]
    count, offset = len(used), np.count_nonzero(used < -1)
    width = stats.norm.ppf(0.5 + confidence / 2) * np.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    first = int(round((count - width) / 2))
    ranks = np.array([first, (count + 1) // 2, count // 2 + 1, count - first + 1]) + offset - 1
    low, one, other, high = np.partition(used, ranks)[ranks]
    slope = (one + other) / 2
    return slope, np.median(y - slope * x), low, high


# A million draws of a dilution factor (JCGM 101:2008, 7.6 and 7.7).


def read_dilution():
    def volume(given):
        doubts = []
        for doubt in (each["doubt"] for each in given.get("doubts", [])):
            if doubt["kind"] == "deviation":
                doubts.append(("normal", float(doubt["standard_deviation"])))
            elif doubt["kind"] == "half-width":
                shape = doubt.get("shape", "rectangular")
                doubts.append((shape, float(doubt["half_width"])))
            else:
                raise ValueError(doubt)
        return float(given["volume"]), doubts

    steps = json.loads((FOLDER / "draws.json").read_text())["steps"]
    return [
        (volume(step["sample"]), volume(step["with"]), step["with"]["kind"]) for step in steps
    ]


def drawn(volume, generator):
    value, doubts = volume
    values = np.full(DRAWS, value)
    for shape, size in doubts:
        if shape == "normal":
            values += generator.normal(0, size, DRAWS)
        elif shape == "rectangular":
            values += generator.uniform(-size, size, DRAWS)
        else:
            values += generator.triangular(-size, 0, size, DRAWS)
    return values


def draws(steps):
    generator = np.random.default_rng(time.time_ns())
    factors = 1
    for sample, other, kind in steps:
        sample, other = drawn(sample, generator), drawn(other, generator)
        if kind == "diluent":
            other += sample
        other /= sample
        factors = factors * other
    tail = DRAWS // 40
    ends = [tail - 1, DRAWS - tail - 1]
    low, high = np.partition(factors, ends)[ends]
    return factors.mean(), factors.std(ddof=1), low, high


def main():
    tasks = {
        "fits": (fits, read_curves(), fits_figures),
        "slopes": (slopes, read_pairs(), np.array),
        "draws": (draws, read_dilution(), np.array),
    }
    versions = f"Python {platform.python_version()}, NumPy {np.__version__}, "
    print(json.dumps({"versions": versions + f"SciPy {scipy.__version__}"}), flush=True)
    for line in sys.stdin:
        work, inputs, figures = tasks[line.strip()]
        begun = time.perf_counter()
        found = work(inputs)
        seconds = time.perf_counter() - begun
        answer = {"seconds": seconds, "figures": figures(found).tolist()}
        print(json.dumps(answer), flush=True)


main()
