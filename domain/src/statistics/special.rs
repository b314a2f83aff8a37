//! Distributions as floats: probabilities from the kept library, quantiles as roots of them.
//!
//! Upper tails are computed as such, not as one less the lower tail, so that small ones keep
//! their figures. Quantiles are looked for in a scale in which the whole line is open, by a root
//! of the probability: the library's own inverse of the beta function may not come to an end.

use statrs::function::{beta, erf, gamma};

use super::door::size;
use super::error::{Answer, StatisticsError};
use super::integrals::integral;
use super::solve::{bracket_rising, root};

/// P(Z <= z) of the standard normal distribution.
pub(super) fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// P(Z > z).
pub(super) fn normal_above(z: f64) -> f64 {
    normal_below(-z)
}

/// The standard normal density.
pub(super) fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The z below which a standard normal value lies with probability `p`, 0 < p < 1.
pub(super) fn normal_quantile(p: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * p)
}

/// The regularised incomplete beta function I_x(a, b).
fn beta_below(quantity: &str, (a, b): (f64, f64), x: f64) -> Answer<f64> {
    beta::checked_beta_reg(a, b, x)
        .map_err(|error| StatisticsError::unsettled(quantity, error.to_string()))
}

/// I_x(a, b) and its rest, for x and y = 1 - x of which the smaller has all its figures: the tail
/// on its side is computed, and the other from it unless that would cancel.
fn beta_tails(quantity: &str, (a, b): (f64, f64), x: f64, y: f64) -> Answer<(f64, f64)> {
    if x > y {
        let (above, below) = beta_tails(quantity, (b, a), y, x)?;
        return Ok((below, above));
    }
    let below = beta_below(quantity, (a, b), x)?;
    let above = if below < 0.9 {
        1.0 - below
    } else {
        beta_below(quantity, (b, a), y)?
    };
    Ok((below, above))
}

/// P(T > |t|) of Student's distribution.
fn student_tail(t: f64, freedom: f64) -> Answer<f64> {
    let whole = freedom + t * t;
    let ends = (freedom / whole, t * t / whole);
    let (below, _) = beta_tails("Student's t", (0.5 * freedom, 0.5), ends.0, ends.1)?;
    Ok(0.5 * below)
}

/// P(T <= t).
pub(super) fn student_below(t: f64, freedom: f64) -> Answer<f64> {
    let tail = student_tail(t, freedom)?;
    Ok(if t > 0.0 { 1.0 - tail } else { tail })
}

/// P(T > t).
pub(super) fn student_above(t: f64, freedom: f64) -> Answer<f64> {
    student_below(-t, freedom)
}

/// The t below which a value of Student's distribution lies with probability `p`, 0 < p < 1.
pub(super) fn student_quantile(p: f64, freedom: f64) -> Answer<f64> {
    let name = "Student's t quantile";
    if (p - 0.5).abs() <= 0.0 {
        return Ok(0.0);
    }
    let tail = p.min(1.0 - p);
    // The tail falls with t; its logarithm is nearly straight, so the root is found at once.
    let excess = |t: f64| tail.ln() - student_tail(t.abs(), freedom).unwrap_or(f64::NAN).ln();
    let guess = -normal_quantile(tail);
    let mut high = guess.max(1.0) * 2.0;
    for _ in 0..400 {
        if excess(high) >= 0.0 {
            break;
        }
        high *= 2.0;
    }
    let t = root(name, (0.0, high), excess)?;
    Ok(if p < 0.5 { -t } else { t })
}

/// P(F <= f) and P(F > f) of the F distribution.
pub(super) fn fisher(f: f64, (upper, lower): (f64, f64)) -> Answer<(f64, f64)> {
    let x = upper * f / (upper * f + lower);
    let y = lower / (upper * f + lower);
    beta_tails("F", (0.5 * upper, 0.5 * lower), x, y)
}

/// The f below which a value of the F distribution lies with probability `p`, 0 < p < 1.
pub(super) fn fisher_quantile(p: f64, freedom: (f64, f64)) -> Answer<f64> {
    quantile_above_zero("F quantile", p, |f| {
        fisher(f, freedom).unwrap_or((f64::NAN, f64::NAN))
    })
}

/// P(X <= x) and P(X > x) of the chi-squared distribution.
pub(super) fn chi_squared(x: f64, freedom: f64) -> Answer<(f64, f64)> {
    let why =
        |error: gamma::GammaFuncError| StatisticsError::unsettled("chi-squared", error.to_string());
    if x <= 0.0 {
        return Ok((0.0, 1.0));
    }
    let below = gamma::checked_gamma_lr(0.5 * freedom, 0.5 * x).map_err(why)?;
    let above = gamma::checked_gamma_ur(0.5 * freedom, 0.5 * x).map_err(why)?;
    Ok((below, above))
}

/// The x below which a chi-squared value lies with probability `p`, 0 < p < 1.
pub(super) fn chi_squared_quantile(p: f64, freedom: f64) -> Answer<f64> {
    quantile_above_zero("chi-squared quantile", p, |x| {
        chi_squared(x, freedom).unwrap_or((f64::NAN, f64::NAN))
    })
}

/// The root of a probability of a value above zero, looked for in its logarithm; of the two tails
/// the smaller is compared, for its figures.
fn quantile_above_zero(quantity: &str, p: f64, tails: impl Fn(f64) -> (f64, f64)) -> Answer<f64> {
    let excess = |logarithm: f64| {
        let (below, above) = tails(logarithm.exp());
        if p <= 0.5 {
            below.ln().max(-800.0) - p.ln()
        } else {
            (1.0 - p).ln() - above.ln().max(-800.0)
        }
    };
    let ends = bracket_rising(quantity, 0.0, 1.0, excess)?;
    Ok(root(quantity, ends, excess)?.exp())
}

/// The x below which a beta value lies with probability `p`, 0 < p < 1.
pub(super) fn beta_quantile(p: f64, (a, b): (f64, f64)) -> Answer<f64> {
    let name = "beta quantile";
    let excess = |logit: f64| {
        let (x, y) = (1.0 / (1.0 + (-logit).exp()), 1.0 / (1.0 + logit.exp()));
        let (below, above) = beta_tails(name, (a, b), x, y).unwrap_or((f64::NAN, f64::NAN));
        if p <= 0.5 {
            below.ln().max(-800.0) - p.ln()
        } else {
            (1.0 - p).ln() - above.ln().max(-800.0)
        }
    };
    let ends = bracket_rising(name, (a / b).ln(), 1.0, excess)?;
    Ok(1.0 / (1.0 + (-root(name, ends, excess)?).exp()))
}

/// P(T <= t) of the non-central t distribution, as the mean over the chi distribution of the
/// standard deviation: Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 2
/// (2nd ed. 1995), chapter 31.
pub(super) fn noncentral_below(t: f64, freedom: f64, shift: f64) -> Answer<f64> {
    let half = 0.5 * freedom;
    let scale = std::f64::consts::LN_2 + half * half.ln() - gamma::ln_gamma(half);
    let spread = 12.0 / (2.0 * freedom).sqrt();
    let range = ((1.0 - spread).max(0.0), 1.0 + spread);
    integral("non-central t", range, 60, |u| {
        let density = (scale + (freedom - 1.0) * u.ln() - half * u * u).exp();
        normal_below(t * u - shift) * density
    })
}

/// The t below which a non-central t value lies with probability `p`, 0 < p < 1.
pub(super) fn noncentral_quantile(p: f64, freedom: f64, shift: f64) -> Answer<f64> {
    let name = "non-central t quantile";
    let excess = |t: f64| noncentral_below(t, freedom, shift).unwrap_or(f64::NAN) - p;
    let ends = bracket_rising(name, shift, 1.0 + 0.1 * shift.abs(), excess)?;
    root(name, ends, excess)
}

/// P(W <= w) for the range W of `n` standard normal values: n times the integral of the density
/// at the smallest and the chance that the others lie within w above it (Hartley, Biometrika 32
/// (1942) 334).
pub(super) fn range_below(w: f64, n: usize) -> Answer<f64> {
    if w <= 0.0 {
        return Ok(0.0);
    }
    let others = size(n) - 1.0;
    let ends = (-9.0 - w.min(9.0), 9.0);
    let value = integral("range of normal values", ends, 16, |x| {
        normal_density(x) * (normal_below(x + w) - normal_below(x)).powf(others)
    })?;
    Ok((size(n) * value).clamp(0.0, 1.0))
}

/// The w below which the range of `n` standard normal values lies with probability `p`.
pub(super) fn range_quantile(p: f64, n: usize) -> Answer<f64> {
    let name = "quantile of the range";
    let excess = |w: f64| range_below(w, n).unwrap_or(f64::NAN) - p;
    root(name, (0.0, 20.0), excess)
}

/// Mean d2 and standard deviation d3 of the range of `n` standard normal values (Tippett,
/// Biometrika 17 (1925) 364).
pub(super) fn range_moments(n: usize) -> Answer<(f64, f64)> {
    let name = "mean of the range";
    let mean = integral(name, (0.0, 20.0), 24, |w| {
        1.0 - range_below(w, n).unwrap_or(f64::NAN)
    })?;
    let square = integral(name, (0.0, 20.0), 24, |w| {
        2.0 * w * (1.0 - range_below(w, n).unwrap_or(f64::NAN))
    })?;
    Ok((mean, (square - mean * mean).sqrt()))
}

/// The mean c4 of the standard deviation of `n` standard normal values.
pub(super) fn deviation_mean(n: usize) -> f64 {
    let half = 0.5 * size(n);
    let ratio = gamma::ln_gamma(half) - gamma::ln_gamma(half - 0.5);
    (2.0 / (size(n) - 1.0)).sqrt() * ratio.exp()
}
