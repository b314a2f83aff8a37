//! Nonlinear least squares, by the kept library's method of Levenberg and Marquardt.
//!
//! Promises a point at which the residuals are at right angles to every change of a parameter;
//! refuses to call anything else a fit.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};

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
        let (found, _) = LevenbergMarquardt::new()
            .with_patience(400)
            .minimize(problem);
        let residuals = of.residuals(&found.at);
        let sum = residuals.norm_squared();
        if !sum.is_finite() || !stands(&residuals, &of.jacobian(&found.at)) {
            continue;
        }
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

/// Whether the residuals are at right angles to every column, as they are at a minimum.
fn stands(residuals: &DVector<f64>, jacobian: &DMatrix<f64>) -> bool {
    let length = residuals.norm();
    jacobian.column_iter().all(|column| {
        let reach = column.norm();
        let along = column.dot(residuals).abs();
        // Residuals of nothing but rounding have no direction.
        reach.is_finite()
            && (along <= 1e-6 * reach * length || length <= 1e-11 * size(column.len()))
    })
}

/// (J^T J)^-1, refused where the columns do not tell the parameters apart.
pub(super) fn inverse_normal(quantity: &str, matrix: &DMatrix<f64>) -> Answer<DMatrix<f64>> {
    let why = || StatisticsError::unsettled(quantity, "the data do not tell its parameters apart");
    // Scaled to a unit diagonal, so that the condition does not depend on units.
    let diagonal: Vec<f64> = matrix.diagonal().iter().map(|d| d.sqrt()).collect();
    if diagonal.iter().any(|d| !(d.is_finite() && *d > 0.0)) {
        return Err(why());
    }
    let scale = DMatrix::from_diagonal(&DVector::from_iterator(
        diagonal.len(),
        diagonal.iter().map(|d| d.recip()),
    ));
    let scaled = &scale * matrix * &scale;
    let eigen = scaled.clone().symmetric_eigenvalues();
    if eigen.min() <= 1e-13 * eigen.max() {
        return Err(why());
    }
    let inverse = scaled.cholesky().ok_or_else(why)?.inverse();
    Ok(&scale * inverse * &scale)
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
