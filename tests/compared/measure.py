"""Times NumPy and SciPy at what `cargo bench -p assize-domain` times of the domain's statistics.

    env/bin/python measure.py

prints the least of five runs in milliseconds, on one thread: a thousand logistic fits by
scipy.optimize.curve_fit, and Passing-Bablok of 2,000 pairs by vectorised NumPy.
"""

import os

os.environ["OMP_NUM_THREADS"] = "1"

import json
import time
import warnings
from pathlib import Path

import numpy as np
from scipy import optimize, stats

warnings.filterwarnings("ignore")
FOLDER = Path(__file__).parent


def floats(values):
    return np.array([float(value) for value in values])


def least(work):
    times = []
    for _ in range(5):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * min(times)


def curve(x, b, c, d, centre):
    return c + (d - c) / (1 + np.exp(b * (np.log(x) - centre)))


def guess(x, y):
    """What the domain's fit does before it begins: a line through the logits."""
    margin = 0.03 * np.ptp(y)
    low, high = y.min() - margin, y.max() + margin
    slope, intercept = np.polyfit(np.log(x), np.log((high - y) / (y - low)), 1)
    return slope, low, high, -intercept / slope


def passing_bablok(x, y, confidence=0.95):
    i, j = np.triu_indices(len(x), 1)
    dx, dy = x[j] - x[i], y[j] - y[i]
    keep = (dx != 0) | (dy != 0)
    with np.errstate(divide="ignore"):
        slopes = dy[keep] / dx[keep]
    slopes = slopes[slopes != -1]
    count, offset, n = len(slopes), np.sum(slopes < -1), len(x)
    width = stats.norm.ppf(0.5 + confidence / 2) * np.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    first = int(round((count - width) / 2))
    ranks = np.array([first, (count + 1) // 2, count // 2 + 1, count - first + 1]) + offset - 1
    low, one, other, high = np.partition(slopes, ranks)[ranks]
    slope = (one + other) / 2
    return slope, np.median(y - slope * x), low, high


def main():
    lines = (FOLDER / "logistic.jsonl").read_text().splitlines()
    cases = [json.loads(line)["input"] for line in lines]
    cases = [(floats(case["x"]), floats(case["y"])) for case in cases]
    thousand = [cases[at % len(cases)] for at in range(1000)]

    def fits():
        for x, y in thousand:
            optimize.curve_fit(curve, x, y, p0=guess(x, y), maxfev=20000)

    both = json.loads((FOLDER / "pairs.json").read_text())
    x, y = floats(both["x"]), floats(both["y"])
    print("passing-bablok", passing_bablok(x, y))
    print(f"a thousand logistic fits: {least(fits):.1f} ms")
    print(f"Passing-Bablok of 2,000 pairs: {least(lambda: passing_bablok(x, y)):.1f} ms")


main()
