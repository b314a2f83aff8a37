"""Random cases computed by SciPy and statsmodels, which the domain's statistics must reproduce.

    python3 -m venv env && env/bin/pip install -r requirements.txt
    env/bin/python make_cases.py

writes one file a topic, a JSON object a line: what went in as decimal texts, what came out as
numbers. The seed is fixed; the same versions give the same files.
"""

import json
import warnings
from pathlib import Path

import numpy as np
import scipy
import statsmodels
from scipy import optimize, stats
from statsmodels.duration.survfunc import SurvfuncRight
from statsmodels.imputation.ros import impute_ros
from statsmodels.regression.linear_model import WLS
from statsmodels.stats.proportion import proportion_confint

warnings.filterwarnings("ignore")

SEED = 20261125
FOLDER = Path(__file__).parent
rng = np.random.default_rng(SEED)


def text(value, figures=6):
    """A plain decimal of so many significant figures."""
    return np.format_float_positional(float(f"{value:.{figures - 1}e}"), trim="-")


def texts(values, figures=6):
    return [text(value, figures) for value in values]


def floats(values):
    return np.array([float(value) for value in values])


def numbers(values):
    return [float(f"{value:.13g}") for value in np.atleast_1d(values)]


def write(topic, cases):
    lines = [json.dumps(case, separators=(",", ":")) for case in cases]
    (FOLDER / f"{topic}.jsonl").write_text("\n".join(lines) + "\n")
    print(topic, len(lines))


def distributions():
    cases = []
    for turn in range(600):
        kind = turn % 6
        freedom = text(10 ** rng.uniform(-0.2, 4), 4)
        other = text(10 ** rng.uniform(0, 3.5), 4)
        if kind == 0:
            of, ready = {"distribution": "normal"}, stats.norm()
        elif kind == 1:
            of = {"distribution": "student-t", "degrees_of_freedom": freedom}
            ready = stats.t(float(freedom))
        elif kind == 2:
            of = {
                "distribution": "fisher-f",
                "numerator_degrees_of_freedom": freedom,
                "denominator_degrees_of_freedom": other,
            }
            ready = stats.f(float(freedom), float(other))
        elif kind == 3:
            of = {"distribution": "chi-squared", "degrees_of_freedom": freedom}
            ready = stats.chi2(float(freedom))
        elif kind == 4:
            freedom = text(rng.integers(2, 120), 4)
            shift = text(rng.uniform(-3, 14), 4)
            of = {
                "distribution": "noncentral-t",
                "degrees_of_freedom": freedom,
                "noncentrality": shift,
            }
            ready = stats.nct(float(freedom), float(shift))
        else:
            values = int(rng.integers(2, 30))
            of = {"distribution": "range-of-normal", "values": values}
            ready = stats.studentized_range(values, np.inf)
        p = text(rng.uniform(0.001, 0.999) if turn % 4 else 10 ** rng.uniform(-4, -2), 4)
        value = ready.ppf(float(p))
        cases.append({"of": of, "at": {"probability": p}, "value": numbers(value)[0]})
        x = text(value, 5)
        tails = [ready.cdf(float(x)), ready.sf(float(x))]
        cases.append({"of": of, "at": {"value": x}, "tails": numbers(tails)})
    write("distributions", cases)


def proportions():
    cases = []
    for _ in range(500):
        tested = int(rng.integers(1, 400))
        positives = int(rng.integers(0, tested + 1))
        confidence = text(rng.choice([0.9, 0.95, 0.99]), 4)
        alpha = 1 - float(confidence)
        wilson = proportion_confint(positives, tested, alpha, method="wilson")
        exact = proportion_confint(positives, tested, alpha, method="beta")
        cases.append(
            {
                "input": {"positives": positives, "tested": tested, "confidence": confidence},
                "wilson": numbers(wilson),
                "exact": numbers(exact),
            }
        )
    write("proportions", cases)


def regression():
    cases = []
    for turn in range(520):
        n = int(rng.integers(4, 11))
        slope, intercept = rng.normal(0, 5), rng.normal(0, 20)
        x = texts(np.round(rng.uniform(0, 50, n), 1) if turn % 3 else rng.uniform(900, 1000, n), 5)
        y = texts(intercept + slope * floats(x) + rng.normal(0, 3, n), 6)
        weights = texts(rng.uniform(0.2, 4, n), 4) if turn % 2 else []
        used = floats(weights) if weights else np.ones(n)
        if np.ptp(floats(x)) == 0:
            continue
        design = np.column_stack([np.ones(n), floats(x)])
        fit = WLS(floats(y), design, weights=used).fit()
        at = text(rng.uniform(0, 60), 4)
        row = np.array([[1.0, float(at)]])
        line = fit.get_prediction(row)
        input = {"x": x, "y": y, "predict_at": [at]}
        if weights:
            input["weights"] = {"relative": weights}
        cases.append(
            {
                "input": input,
                "parameters": numbers(fit.params),
                "errors": numbers(fit.bse),
                "covariance": numbers(fit.cov_params()[0, 1])[0],
                "residual_s": numbers(np.sqrt(fit.scale))[0],
                "r_squared": numbers(fit.rsquared)[0],
                "prediction": numbers([line.predicted_mean[0], line.se_mean[0]]),
            }
        )
    write("regression", cases)


def deming():
    """Known uncertainties on both axes: the profile of the sum over the angle of the line."""
    cases = []
    for _ in range(500):
        n = int(rng.integers(5, 10))
        true = rng.uniform(1, 40, n)
        slope, intercept = rng.uniform(0.4, 2.0), rng.normal(0, 2)
        u_x, u_y = texts(rng.uniform(0.1, 1.5, n), 3), texts(rng.uniform(0.1, 1.5, n), 3)
        x = texts(true + rng.normal(0, 1, n) * floats(u_x), 4)
        y = texts(intercept + slope * true + rng.normal(0, 1, n) * floats(u_y), 4)
        fx, fy, sx, sy = floats(x), floats(y), floats(u_x), floats(u_y)

        def residuals(p):
            return (fy - p[0] - p[1] * fx) / np.sqrt(sy**2 + (p[1] * sx) ** 2)

        best = None
        for start in [(intercept, slope), (0, 1), (np.mean(fy), 0)]:
            found = optimize.least_squares(residuals, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
            if best is None or found.cost < best.cost:
                best = found
        cases.append(
            {
                "input": {"x": x, "y": y, "errors": {"known": {"u_x": u_x, "u_y": u_y}}},
                "parameters": numbers(best.x),
                "sum": numbers(2 * best.cost)[0],
            }
        )
    write("deming", cases)


def logistic():
    def curve(x, b, c, d, centre):
        return c + (d - c) / (1 + np.exp(b * (np.log(x) - centre)))

    cases = []
    while len(cases) < 500:
        levels = int(rng.integers(6, 9))
        replicates = int(rng.integers(1, 3))
        e = 10 ** rng.uniform(-0.5, 2)
        b = rng.choice([-1, 1]) * rng.uniform(0.7, 2.5)
        c = rng.uniform(0, 0.3)
        d = c + rng.uniform(0.8, 3)
        x = np.repeat(e * 2.5 ** (np.arange(levels) - (levels - 1) / 2), replicates)
        x = texts(x, 4)
        y = curve(floats(x), b, c, d, np.log(e))
        y = texts(y + rng.normal(0, 0.02 * (d - c), len(y)), 5)
        try:
            found, covariance = optimize.curve_fit(
                curve, floats(x), floats(y), p0=(b, c, d, np.log(e)),
                xtol=1e-14, ftol=1e-14, gtol=1e-14, maxfev=20000,
            )
        except RuntimeError:
            continue
        if not np.all(np.isfinite(covariance)) or found[1] > found[2]:
            continue
        # Curves that the points do not tell are refused by the domain, and no case.
        if max(np.sqrt(np.diag(covariance))[1:3]) > found[2] - found[1]:
            continue
        rest = floats(y) - curve(floats(x), *found)
        cases.append(
            {
                "input": {"x": x, "y": y},
                "parameters": numbers(found),
                "errors": numbers(np.sqrt(np.diag(covariance))),
                "residual_sum": numbers(rest @ rest)[0],
            }
        )
    write("logistic", cases)


def robust():
    cases = []
    z = stats.norm.ppf(0.75)
    inside = 2 * stats.norm.cdf(1.5) - 1
    c = 1 / np.sqrt(inside - 3 * stats.norm.pdf(1.5) + 2.25 * (1 - inside))
    while len(cases) < 500:
        n = int(rng.integers(6, 21))
        values = rng.normal(rng.uniform(5, 50), rng.uniform(0.5, 3), n)
        far = rng.integers(0, max(1, n // 6) + 1)
        values[:far] += rng.choice([-1, 1], far) * rng.uniform(5, 60, far)
        # Rounded coarsely half of the time, so that there are ties.
        values = texts(np.round(values, 1) if len(cases) % 2 else values, 5)
        x = floats(values)
        mad = stats.median_abs_deviation(x) / z
        if mad == 0:
            continue

        def equations(p):
            drawn = np.clip(x, p[0] - 1.5 * p[1], p[0] + 1.5 * p[1])
            return [drawn.mean() - p[0], c * drawn.std(ddof=1) - p[1]]

        # SciPy's fixed-point iteration from the start that ISO 13528 names.
        def step(p):
            a, b = equations(p)
            return np.array([p[0] + a, p[1] + b])

        start = np.array([np.median(x), mad])
        found = optimize.fixed_point(step, start, xtol=1e-15, maxiter=200000, method="iteration")
        first, third = np.quantile(x, [0.25, 0.75])
        cases.append(
            {
                "input": {"values": values},
                "robust": numbers(found),
                "median": numbers(np.median(x))[0],
                "scaled_mad": numbers(mad)[0],
                "quartiles": numbers([first, third]),
                "normalised_iqr": numbers(stats.iqr(x) / (2 * z))[0],
                "classical": numbers([x.mean(), x.std(ddof=1)]),
            }
        )
    write("robust", cases)


def survival():
    cases = []
    while len(cases) < 500:
        n = int(rng.integers(8, 19))
        x = np.exp(rng.normal(rng.uniform(0, 2), rng.uniform(0.4, 1.2), n))
        limits = rng.choice([0.5, 1, 2, 3, 5], n)
        below = x < limits
        x = floats(texts(np.where(below, limits, np.round(x, 1)), 4))
        known = x[~below]
        if len(np.unique(known)) < 3 or not below.any() or below.mean() > 0.75:
            continue
        shown = [f"<{text(v, 4)}" if b else text(v, 4) for v, b in zip(x, below)]
        # Kaplan and Meier's estimate of -x, censored from the right.
        curve = SurvfuncRight(-x, (~below).astype(int))
        fit = stats.norm.fit(
            stats.CensoredData(uncensored=np.log(known), left=np.log(x[below])),
            optimizer=lambda f, s, args, disp: optimize.minimize(
                f, s, args, method="Nelder-Mead",
                options={"xatol": 1e-12, "fatol": 1e-14, "maxiter": 20000},
            ).x,
        )
        case = {
            "input": {"values": shown},
            "steps": numbers(-np.asarray(curve.surv_times)),
            "below": numbers(curve.surv_prob),
            "likelihood": numbers(fit),
        }
        if x[below].max() <= known.max():
            import pandas

            frame = pandas.DataFrame({"x": x, "below": below})
            whole = impute_ros("x", "below", df=frame, max_fraction_censored=1.0, min_uncensored=2)
            case["ros"] = numbers([np.mean(whole), np.std(whole, ddof=1)])
        cases.append(case)
    write("survival", cases)


def variance():
    cases = []
    for _ in range(530):
        groups = int(rng.integers(2, 7))
        centre, between = rng.uniform(5, 20), rng.uniform(0, 2)
        level = [
            texts(centre + rng.normal(0, between) + rng.normal(0, 1, rng.integers(1, 5)), 5)
            for _ in range(groups)
        ]
        if sum(len(group) for group in level) <= groups:
            continue
        f, p = stats.f_oneway(*[floats(group) for group in level])
        cases.append({"levels": [level], "f": numbers(f)[0], "p": numbers(p)[0]})
    write("variance", cases)


def pairs():
    """Two thousand pairs for measuring speed."""
    true = rng.uniform(5, 500, 2000)
    x = texts(np.round(true + rng.normal(0, 0.03 * true), 2), 6)
    y = texts(np.round(1.5 + 0.97 * true + rng.normal(0, 0.03 * true), 2), 6)
    whole = json.dumps({"x": x, "y": y}, separators=(",", ":"))
    (FOLDER / "pairs.json").write_text(whole + "\n")


if __name__ == "__main__":
    print("numpy", np.__version__, "scipy", scipy.__version__, "statsmodels", statsmodels.__version__)
    distributions()
    proportions()
    regression()
    deming()
    logistic()
    robust()
    survival()
    variance()
    pairs()
