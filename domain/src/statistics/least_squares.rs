//! Nonlinear least squares, by the kept library's method of Levenberg and Marquardt.
//!
//! Promises a point at which the residuals are at right angles to every change of a parameter;
//! refuses to call anything else a fit.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::allocator::{Allocator, Reallocator};
use nalgebra::storage::{Owned, Storage};
use nalgebra::{
    DMatrix, DVector, DefaultAllocator, Dim, DimMax, DimMaximum, DimMin, Dyn, Matrix, Matrix4,
    Vector,
};

use super::door::size;
use super::error::{Answer, StatisticsError};

/// Residuals and their derivatives by the parameters.
pub(super) trait Residuals {
    /// One for each observation.
    fn residuals(&self, at: &DVector<f64>) -> DVector<f64>;
    /// A row for each observation, a column for each parameter.
    fn jacobian(&self, at: &DVector<f64>) -> DMatrix<f64>;
}

/// Where the sum of squares is smallest.
pub(super) struct Settled {
    pub(super) parameters: DVector<f64>,
    pub(super) sum: f64,
}

struct Problem<'a, R> {
    of: &'a R,
    at: DVector<f64>,
}

impl<R: Residuals> LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_, R> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, at: &DVector<f64>) {
        self.at.copy_from(at);
    }

    fn params(&self) -> DVector<f64> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let residuals = self.of.residuals(&self.at);
        residuals.iter().all(|r| r.is_finite()).then_some(residuals)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let jacobian = self.of.jacobian(&self.at);
        jacobian.iter().all(|j| j.is_finite()).then_some(jacobian)
    }
}

/// The best of the minima that are reached from some starts.
pub(super) fn minimise<R: Residuals>(
    quantity: &str,
    of: &R,
    starts: &[DVector<f64>],
) -> Answer<Settled> {
    let mut best: Option<Settled> = None;
    for start in starts {
        let problem = Problem {
            of,
            at: start.clone(),
        };
        let Some((found, sum)) = descend(problem) else {
            continue;
        };
        if best.as_ref().is_none_or(|best| sum < best.sum) {
            best = Some(Settled {
                parameters: found.at,
                sum,
            });
        }
    }
    best.ok_or_else(|| {
        let why = "no start leads to a least sum of squares";
        StatisticsError::unsettled(quantity, why)
    })
}

/// The minimum that is reached from where a problem stands, and its sum of squares.
pub(super) fn descend<N, P>(problem: P) -> Option<(P, f64)>
where
    N: Dim,
    Dyn: DimMin<N> + DimMax<N>,
    P: LeastSquaresProblem<f64, Dyn, N>,
    DefaultAllocator: Allocator<N> + Reallocator<f64, Dyn, N, DimMaximum<Dyn, N>, N>,
{
    let (found, _) = LevenbergMarquardt::new()
        .with_patience(400)
        .minimize(problem);
    let residuals = found.residuals()?;
    let sum = residuals.norm_squared();
    let settled = sum.is_finite() && stands(&residuals, &found.jacobian()?);
    settled.then_some((found, sum))
}

/// Where a problem stands once its steps have become small, which need not be the minimum yet.
pub(super) fn approach<N, P>(problem: P) -> P
where
    N: Dim,
    Dyn: DimMin<N> + DimMax<N>,
    P: LeastSquaresProblem<f64, Dyn, N>,
    DefaultAllocator: Allocator<N> + Reallocator<f64, Dyn, N, DimMaximum<Dyn, N>, N>,
{
    let (near, _) = LevenbergMarquardt::new()
        .with_ftol(1e-3)
        .with_xtol(1e-2)
        .with_gtol(1e-3)
        .with_patience(400)
        .minimize(problem);
    near
}

/// Whether the residuals are at right angles to every column, as they are at a minimum.
fn stands<N: Dim>(
    residuals: &Vector<f64, Dyn, impl Storage<f64, Dyn>>,
    jacobian: &Matrix<f64, Dyn, N, impl Storage<f64, Dyn, N>>,
) -> bool {
    let length = residuals.norm();
    jacobian.column_iter().all(|column| {
        let reach = column.norm();
        let along = column.dot(residuals).abs();
        // Residuals of nothing but rounding have no direction.
        reach.is_finite()
            && (along <= 1e-6 * reach * length || length <= 1e-11 * size(column.len()))
    })
}

/// (J^T J)^-1, refused where the columns do not tell the parameters apart. A parameter that is
/// not looked for has a one of its own in the diagonal, and nothing beside it.
pub(super) fn inverse_normal(quantity: &str, matrix: &Matrix4<f64>) -> Answer<Matrix4<f64>> {
    let why = || StatisticsError::unsettled(quantity, "the data do not tell its parameters apart");
    // Scaled to a unit diagonal, so that the condition does not depend on units.
    let diagonal = matrix.diagonal().map(f64::sqrt);
    if diagonal.iter().any(|d| !(d.is_finite() && *d > 0.0)) {
        return Err(why());
    }
    let scale = Matrix4::from_diagonal(&diagonal.map(f64::recip));
    let scaled = scale * matrix * scale;
    let inverse = scaled.cholesky().ok_or_else(why)?.inverse();
    // Their product is at least the ratio of the largest to the smallest eigenvalue.
    let condition = scaled.norm() * inverse.norm();
    if condition.is_nan() || condition >= 1e13 {
        return Err(why());
    }
    Ok(scale * inverse * scale)
}

/// Where all residuals are zero: as many equations as parameters.
pub(super) fn solve<R: Residuals>(
    quantity: &str,
    of: &R,
    start: DVector<f64>,
) -> Answer<DVector<f64>> {
    let why = || StatisticsError::unsettled(quantity, "its equations are not met");
    let problem = Problem { of, at: start };
    let (found, _) = LevenbergMarquardt::new()
        .with_patience(400)
        .minimize(problem);
    // One step of Newton's tells how far the answer still is, and takes it there.
    let step = of
        .jacobian(&found.at)
        .lu()
        .solve(&of.residuals(&found.at))
        .ok_or_else(why)?;
    let met = step.norm() <= 1e-7 * (1.0 + found.at.norm());
    met.then(|| found.at - step).ok_or_else(why)
}
