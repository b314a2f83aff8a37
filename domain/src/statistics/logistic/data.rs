//! The points of a curve, what is fixed of it, and where a fit begins.

use levenberg_marquardt::LeastSquaresProblem;
use nalgebra::allocator::{Allocator, Reallocator};
use nalgebra::storage::Owned;
use nalgebra::{
    Const, DVector, DefaultAllocator, Dim, DimMax, DimMaximum, DimMin, Dyn, OMatrix, OVector,
};

use crate::quantity::Number;

use super::super::door::{float, floats, not_negative, positive, size};
use super::super::error::{Answer, StatisticsError, as_long, at_least};
use super::super::least_squares::{approach, descend};
use super::super::summary;
use super::curve::{CurveAxis, Place, Shape, position};
use super::fit::LogisticFitInput;
use super::refine::{Moments, refine};

/// The data, and which parameters are free.
pub(super) struct Data {
    pub(super) u: Vec<f64>,
    pub(super) y: Vec<f64>,
    /// Roots of the weights.
    pub(super) roots: Vec<f64>,
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

    /// The curve whose free parameters are these.
    fn shape(&self, free: &[f64]) -> Shape {
        let mut free = free.iter().copied();
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

    /// Each point: u, y, root of its weight.
    pub(super) fn points(&self) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        let pairs = self.u.iter().zip(&self.y).zip(&self.roots);
        pairs.map(|((u, y), root)| (*u, *y, *root))
    }

    /// How far a curve is from each response, by the root of its weight.
    fn residuals(&self, shape: &Shape, places: &[Place]) -> DVector<f64> {
        let points = self.points().zip(places);
        let each = points.map(|((_, y, root), place)| root * (shape.at(place) - y));
        DVector::from_iterator(places.len(), each)
    }

    /// A curve with the asymptotes that are fixed, else a little outside the responses.
    fn guess(&self, slope: f64, centre: f64) -> Shape {
        let (least, most) = self.span();
        let margin = 0.03 * (most - least);
        let [_, lower, upper, _] = self.fixed;
        Shape {
            slope,
            lower: lower.unwrap_or(least - margin),
            upper: upper.unwrap_or(most + margin),
            centre,
            axis: self.axis,
        }
    }

    /// The smallest and the largest response.
    pub(super) fn span(&self) -> (f64, f64) {
        let ends = (f64::INFINITY, f64::NEG_INFINITY);
        let each = self.y.iter();
        each.fold(ends, |(low, high), y| (low.min(*y), high.max(*y)))
    }

    /// Whether a point lies on the slope of a curve, rather than all on its asymptotes.
    fn tells_slope(&self, shape: &Shape) -> bool {
        let mut places = self.u.iter().map(|u| shape.place(*u));
        shape.slope.abs() > 0.0 && places.any(|place| place.steepness > 1e-9)
    }

    /// By a line through the logits of the responses within their own span.
    fn by_logits(&self) -> Option<Shape> {
        let Shape { lower, upper, .. } = self.guess(1.0, 0.0);
        let logits = self
            .points()
            .map(|(u, y, _)| (u, ((upper - y) / (y - lower)).ln()))
            .filter(|(u, logit)| u.is_finite() && logit.is_finite());
        let (u, logit): (Vec<f64>, Vec<f64>) = logits.unzip();
        let count = size(u.len());
        let (middle, height) = (
            u.iter().sum::<f64>() / count,
            logit.iter().sum::<f64>() / count,
        );
        let (mut squares, mut products) = (0.0, 0.0);
        for (u, logit) in u.iter().zip(&logit) {
            squares += (u - middle).powi(2);
            products += (u - middle) * (logit - height);
        }
        let slope: f64 = products / squares;
        let rises = slope.is_finite() && slope.abs() > 1e-9;
        rises.then(|| self.guess(slope, middle - height / slope))
    }

    /// Slopes about the middle of the points.
    fn about_the_middle(&self) -> Vec<Shape> {
        let finite: Vec<f64> = self.u.iter().copied().filter(|u| u.is_finite()).collect();
        if finite.len() < 2 {
            return Vec::new();
        }
        let steep = 2.0 / summary::deviation(&finite).max(f64::MIN_POSITIVE);
        let middle = summary::median(&finite);
        let slopes = [steep, -steep, 4.0 * steep, -4.0 * steep];
        slopes.map(|slope| self.guess(slope, middle)).into()
    }

    /// The minimum that a guess leads to, with its moments.
    fn descend(&self, from: &Shape) -> Option<(Shape, Moments)> {
        match self.fixed {
            // As many as the compiler then knows of.
            [None, None, None, None] => self.descend_by::<Const<4>>(from),
            _ => self.descend_by::<Dyn>(from),
        }
    }

    /// Near the minimum second derivatives are faster; where they lead nowhere, the rest of the
    /// way is taken without them.
    fn descend_by<N: Dim>(&self, from: &Shape) -> Option<(Shape, Moments)>
    where
        Dyn: DimMin<N> + DimMax<N>,
        DefaultAllocator:
            Allocator<N> + Allocator<Dyn, N> + Reallocator<f64, Dyn, N, DimMaximum<Dyn, N>, N>,
    {
        let near = approach(Descent::<N>::new(self, *from));
        refine(self, near.shape).or_else(|| {
            let (found, _sum) = descend(near)?;
            Some((found.shape, Moments::new(self, &found.shape)))
        })
    }
}

/// A curve on its way to the least sum of squares.
struct Descent<'a, N: Dim>
where
    DefaultAllocator: Allocator<N>,
{
    data: &'a Data,
    free: Vec<usize>,
    at: OVector<f64, N>,
    shape: Shape,
    /// Where each point lies on it.
    places: Vec<Place>,
}

impl<'a, N: Dim> Descent<'a, N>
where
    DefaultAllocator: Allocator<N>,
{
    fn new(data: &'a Data, from: Shape) -> Self {
        let all = [from.slope, from.lower, from.upper, from.centre];
        let free = data.free();
        let start = free.iter().filter_map(|place| all.get(*place)).copied();
        let rows = N::from_usize(free.len());
        Self {
            data,
            at: OVector::from_iterator_generic(rows, Const::<1>, start),
            free,
            shape: from,
            places: data.u.iter().map(|u| from.place(*u)).collect(),
        }
    }
}

impl<N: Dim> LeastSquaresProblem<f64, Dyn, N> for Descent<'_, N>
where
    DefaultAllocator: Allocator<N> + Allocator<Dyn, N>,
{
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, N>;
    type ParameterStorage = Owned<f64, N>;

    fn set_params(&mut self, at: &OVector<f64, N>) {
        self.at.copy_from(at);
        self.shape = self.data.shape(at.as_slice());
        for (place, u) in self.places.iter_mut().zip(&self.data.u) {
            *place = self.shape.place(*u);
        }
    }

    fn params(&self) -> OVector<f64, N> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let residuals = self.data.residuals(&self.shape, &self.places);
        residuals.iter().all(|r| r.is_finite()).then_some(residuals)
    }

    fn jacobian(&self) -> Option<OMatrix<f64, Dyn, N>> {
        let rows = self.places.len();
        let columns = N::from_usize(self.free.len());
        let mut jacobian = OMatrix::<f64, Dyn, N>::zeros_generic(Dyn(rows), columns);
        let points = self.places.iter().zip(&self.data.roots);
        for (mut row, (place, root)) in jacobian.row_iter_mut().zip(points) {
            let gradient = self.shape.gradient(place);
            for (cell, parameter) in row.iter_mut().zip(&self.free) {
                *cell = root * gradient.get(*parameter).copied().unwrap_or(f64::NAN);
            }
        }
        jacobian.iter().all(|j| j.is_finite()).then_some(jacobian)
    }
}

pub(super) fn data(input: &LogisticFitInput) -> Answer<Data> {
    let (x, y) = (floats(&input.x), floats(&input.y));
    as_long("y", y.len(), x.len())?;
    let roots = if input.weights.is_empty() {
        vec![1.0; x.len()]
    } else {
        as_long("weights", input.weights.len(), x.len())?;
        let each = input
            .weights
            .iter()
            .map(|weight| positive("weight", *weight).map(f64::sqrt));
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
        roots,
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

/// The first guess that leads to a minimum, and its moments; the next ones only where one does
/// not.
pub(super) fn settle(data: &Data) -> Answer<(Shape, Moments)> {
    let (least, most) = data.span();
    let height = most - least;
    let far = |end: f64| end < least - 1000.0 * height || end > most + 1000.0 * height;
    let others = std::iter::once_with(|| data.about_the_middle()).flatten();
    data.by_logits()
        .into_iter()
        .chain(others)
        .filter_map(|guess| data.descend(&guess))
        .find(|(shape, _)| !far(shape.lower) && !far(shape.upper) && data.tells_slope(shape))
        .ok_or_else(|| {
            let why = "no guess leads to a curve whose asymptotes the responses tell";
            StatisticsError::unsettled("logistic curve", why)
        })
}
