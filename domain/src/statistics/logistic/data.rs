//! The points of a curve, what is fixed of it, and where a fit begins.

use nalgebra::{DMatrix, DVector};

use crate::quantity::Number;

use super::super::door::{float, floats, not_negative, positive};
use super::super::error::{Answer, StatisticsError, as_long, at_least};
use super::super::least_squares::{Residuals, Settled, minimise};
use super::super::lines;
use super::super::summary;
use super::curve::{CurveAxis, Shape, position};
use super::fit::LogisticFitInput;

/// The data, and which parameters are free.
pub(super) struct Data {
    pub(super) u: Vec<f64>,
    pub(super) y: Vec<f64>,
    pub(super) weights: Vec<f64>,
    pub(super) axis: CurveAxis,
    pub(super) fixed: [Option<f64>; 4],
}

impl Data {
    /// Places of the parameters that are not fixed.
    pub(super) fn free(&self) -> Vec<usize> {
        let places = self.fixed.iter().enumerate();
        places
            .filter(|(_, fixed)| fixed.is_none())
            .map(|(place, _)| place)
            .collect()
    }

    pub(super) fn shape(&self, at: &DVector<f64>) -> Shape {
        let mut free = at.iter().copied();
        let [slope, lower, upper, centre] = self
            .fixed
            .map(|fixed| fixed.or_else(|| free.next()).unwrap_or(f64::NAN));
        Shape {
            slope,
            lower,
            upper,
            centre,
            axis: self.axis,
        }
    }

    fn start(&self, shape: &Shape) -> DVector<f64> {
        let all = [shape.slope, shape.lower, shape.upper, shape.centre];
        let pairs = all.into_iter().zip(self.fixed);
        let free: Vec<f64> = pairs
            .filter(|(_, fixed)| fixed.is_none())
            .map(|(p, _)| p)
            .collect();
        DVector::from_vec(free)
    }

    /// Each point: u, y, root of its weight.
    pub(super) fn points(&self) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        let pairs = self.u.iter().zip(&self.y).zip(&self.weights);
        pairs.map(|((u, y), weight)| (*u, *y, weight.sqrt()))
    }

    /// Guesses: by a line through the logits of the responses within their own span, and two
    /// slopes about the middle of the points.
    fn guesses(&self) -> Vec<Shape> {
        let (least, most) = self
            .y
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| {
                (low.min(*y), high.max(*y))
            });
        let margin = 0.03 * (most - least);
        let [_, lower, upper, _] = self.fixed;
        let (lower, upper) = (
            lower.unwrap_or(least - margin),
            upper.unwrap_or(most + margin),
        );
        let logits: Vec<(f64, f64)> = self
            .points()
            .map(|(u, y, _)| (u, ((upper - y) / (y - lower)).ln()))
            .filter(|(u, logit)| u.is_finite() && logit.is_finite())
            .collect();
        let (u, logit): (Vec<f64>, Vec<f64>) = logits.into_iter().unzip();
        let mut found = Vec::new();
        let mut guess = |slope: f64, centre: f64| {
            found.push(Shape {
                slope,
                lower,
                upper,
                centre,
                axis: self.axis,
            });
        };
        let ones = vec![1.0; u.len()];
        if let Ok(line) = lines::fit(&u, &logit, &ones)
            && line.slope.abs() > 1e-9
        {
            guess(line.slope, line.x_mean - line.y_mean / line.slope);
        }
        let finite: Vec<f64> = self.u.iter().copied().filter(|u| u.is_finite()).collect();
        if finite.len() > 1 {
            let steep = 2.0 / summary::deviation(&finite).max(f64::MIN_POSITIVE);
            let middle = summary::median(&finite);
            for slope in [steep, -steep, 4.0 * steep, -4.0 * steep] {
                guess(slope, middle);
            }
        }
        found
    }
}

impl Residuals for Data {
    fn residuals(&self, at: &DVector<f64>) -> DVector<f64> {
        let shape = self.shape(at);
        let each = self
            .points()
            .map(|(u, y, w)| w * (shape.at(&shape.place(u)) - y));
        DVector::from_iterator(self.y.len(), each)
    }

    fn jacobian(&self, at: &DVector<f64>) -> DMatrix<f64> {
        let shape = self.shape(at);
        let free = self.fixed.map(|fixed| fixed.is_none());
        let rows = self.points().flat_map(|(u, _, w)| {
            let gradient = shape.gradient(&shape.place(u));
            let kept = gradient.into_iter().zip(free);
            kept.filter(|(_, free)| *free).map(move |(g, _)| w * g)
        });
        let columns = free.iter().filter(|free| **free).count();
        DMatrix::from_row_iterator(self.y.len(), columns, rows)
    }
}

pub(super) fn data(input: &LogisticFitInput) -> Answer<Data> {
    let (x, y) = (floats(&input.x), floats(&input.y));
    as_long("y", y.len(), x.len())?;
    let weights = if input.weights.is_empty() {
        vec![1.0; x.len()]
    } else {
        as_long("weights", input.weights.len(), x.len())?;
        let each = input
            .weights
            .iter()
            .map(|weight| positive("weight", *weight));
        each.collect::<Answer<Vec<f64>>>()?
    };
    if input.axis == CurveAxis::Logarithmic {
        for x in &input.x {
            not_negative("x", *x)?;
        }
    }
    let fixed = [
        None,
        input.fixed_lower.map(float),
        input.fixed_upper.map(float),
        None,
    ];
    let data = Data {
        u: x.iter().map(|x| position(*x, input.axis)).collect(),
        y,
        weights,
        axis: input.axis,
        fixed,
    };
    let free = data.free().len();
    at_least("points", x.len(), free.saturating_add(1))?;
    let mut distinct = summary::sorted(&x);
    distinct.dedup();
    at_least("distinct x", distinct.len(), free)?;
    if summary::deviation(&data.y) <= 0.0 {
        return Err(StatisticsError::flat("responses"));
    }
    Ok(data)
}

/// Refuses mean responses that turn back by more than is allowed, whichever direction is taken.
pub(super) fn check_monotone(data: &Data, allowed: Option<Number>) -> Answer<()> {
    let allowed = allowed.map_or(Ok(25.0), |percent| not_negative("turning allowed", percent))?;
    let mut points: Vec<(f64, f64)> = data.u.iter().copied().zip(data.y.iter().copied()).collect();
    points.sort_unstable_by(|one, other| one.0.total_cmp(&other.0).then(one.1.total_cmp(&other.1)));
    let levels = points.chunk_by(|one, other| one.0.total_cmp(&other.0).is_eq());
    let means = levels.map(|level| {
        let y: Vec<f64> = level.iter().map(|(_, y)| *y).collect();
        summary::mean(&y)
    });
    let (mut highest, mut lowest) = (f64::NEG_INFINITY, f64::INFINITY);
    let (mut fall, mut rise) = (0.0_f64, 0.0_f64);
    for mean in means {
        highest = highest.max(mean);
        lowest = lowest.min(mean);
        fall = fall.max(highest - mean);
        rise = rise.max(mean - lowest);
    }
    let back = 100.0 * fall.min(rise) / (highest - lowest).max(f64::MIN_POSITIVE);
    if back > allowed {
        return Err(StatisticsError::NotMonotone {
            quantity: "mean response over x".to_owned(),
            why: format!("it turns back by {back:.0} % of its span, {allowed} % being allowed"),
        });
    }
    Ok(())
}

/// The first guess that leads to a minimum; the next ones only where one does not.
pub(super) fn settle(data: &Data) -> Answer<Settled> {
    let name = "logistic curve";
    let spread = data
        .y
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| {
            (low.min(*y), high.max(*y))
        });
    let height = spread.1 - spread.0;
    for guess in data.guesses() {
        let Ok(settled) = minimise(name, data, &[data.start(&guess)]) else {
            continue;
        };
        let shape = data.shape(&settled.parameters);
        let far = |end: f64| end < spread.0 - 1000.0 * height || end > spread.1 + 1000.0 * height;
        if !far(shape.lower) && !far(shape.upper) && shape.slope.abs() > 0.0 {
            return Ok(settled);
        }
    }
    let why = "no guess leads to a curve whose asymptotes the responses tell";
    Err(StatisticsError::unsettled(name, why))
}
