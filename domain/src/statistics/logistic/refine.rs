//! The last steps to a minimum, by second derivatives of the sum of squares.
//!
//! Promises a curve whose distance from the minimum is nothing beside its standard errors, with
//! the matrices that those come from; refuses where a step leads up, or to no minimum.

use nalgebra::{Matrix4, Vector4};

use super::super::error::Answer;
use super::super::least_squares::inverse_normal;
use super::curve::Shape;
use super::data::Data;

/// Most steps: from where they begin, two or three are enough.
const MOST_STEPS: usize = 8;

/// How far the minimum may be, as the square of a distance in standard errors and up to the
/// degrees of freedom: a standard error's part in 10^11.
const NOTHING: f64 = 1e-22;

/// The sum of squares about a curve, and half of what its derivatives by b, c, d and L are,
/// zero for what is fixed.
pub(super) struct Moments {
    /// The weighted sum of squared residuals.
    pub(super) sum: f64,
    gradient: Vector4<f64>,
    /// The inverse of the second derivatives, where the data tell the parameters apart.
    pub(super) hessian: Answer<Matrix4<f64>>,
    /// J^T J.
    first: Matrix4<f64>,
    free: Free,
}

impl Moments {
    pub(super) fn new(data: &Data, shape: &Shape) -> Self {
        let free = Free(Vector4::from(
            data.fixed.map(|fixed| f64::from(u8::from(fixed.is_none()))),
        ));
        let (mut sum, mut by_one) = (0.0, Vector4::zeros());
        let (mut first, mut second) = (Matrix4::zeros(), Matrix4::zeros());
        for (u, y, root) in data.points() {
            let place = shape.place(u);
            let gradient = Vector4::from(shape.gradient(&place));
            // Symmetric, so that rows and columns are the same.
            let curvature = Matrix4::from(shape.curvature(&place));
            let (weight, away) = (root * root, shape.at(&place) - y);
            let outer = gradient * gradient.transpose() * weight;
            sum += weight * away * away;
            by_one += gradient * (weight * away);
            second += outer + curvature * (weight * away);
            first += outer;
        }
        Self {
            sum,
            gradient: by_one.component_mul(&free.0),
            hessian: free.inverse(&second),
            first,
            free,
        }
    }

    /// The inverse of J^T J.
    pub(super) fn gauss_newton(&self) -> Answer<Matrix4<f64>> {
        self.free.inverse(&self.first)
    }
}

/// 1 for each parameter that is free, 0 for each that is fixed.
struct Free(Vector4<f64>);

impl Free {
    /// The inverse of a matrix, zero for what is fixed.
    fn inverse(&self, whole: &Matrix4<f64>) -> Answer<Matrix4<f64>> {
        let both = self.0 * self.0.transpose();
        let fixed = Matrix4::from_diagonal(&self.0.map(|free| 1.0 - free));
        let part = whole.component_mul(&both) + fixed;
        Ok(inverse_normal("logistic curve", &part)?.component_mul(&both))
    }
}

/// The curve at the minimum near which one lies, with its moments; none where there is none.
pub(super) fn refine(data: &Data, from: Shape) -> Option<(Shape, Moments)> {
    let mut shape = from;
    let mut moments = Moments::new(data, &shape);
    let (least, most) = data.span();
    // Residuals of nothing but rounding have no direction; they are weighted as the sum is.
    let weights: f64 = data.roots.iter().map(|root| root * root).sum();
    let rounding = (1e-14 * (most - least)).powi(2) * weights;
    for _ in 0..MOST_STEPS {
        let hessian = moments.hessian.as_ref().ok()?;
        let step = hessian * moments.gradient;
        let distance = step.dot(&moments.gradient);
        if moments.sum <= rounding || distance <= NOTHING * moments.sum {
            return Some((shape, moments));
        }
        shape = shape.moved(step.into());
        let reached = Moments::new(data, &shape);
        // So near, only the rounding of the sum may lead up; what is no number does not pass.
        let down = reached.sum <= moments.sum * (1.0 + 1e-12);
        if !down {
            return None;
        }
        moments = reached;
    }
    None
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]

    use super::super::{LogisticFitInput, fit_logistic};

    fn fitted(x: &[&str], y: &[&str]) -> Result<String, String> {
        let input = serde_json::json!({"x": x, "y": y});
        let input: LogisticFitInput = serde_json::from_value(input).unwrap();
        let fit = fit_logistic(&input).map_err(|refused| refused.to_string())?;
        Ok(format!("{} {}", fit.midpoint.value, fit.residual_sum))
    }

    #[test]
    fn responses_without_scatter_are_met_to_the_last_figure() {
        // 2/(1 + x/10): b = 1, c = 0, d = 2, e = 10.
        let x = ["0", "2.5", "10", "30", "190"];
        let fit = fitted(&x, &["2", "1.6", "1", "0.5", "0.1"]).unwrap();
        assert_eq!(fit, "10 0");
    }

    #[test]
    fn weights_that_are_all_the_same_change_no_curve() {
        let x = ["0", "2.5", "10", "30", "190"];
        let y = ["2.01", "1.59", "1.01", "0.495", "0.101"];
        let plain = fitted(&x, &y).unwrap();
        let tiny = vec!["0.000000000000000000000001"; x.len()];
        let input = serde_json::json!({"x": x, "y": y, "weights": tiny});
        let input: LogisticFitInput = serde_json::from_value(input).unwrap();
        let midpoint = fit_logistic(&input).unwrap().midpoint.value.to_string();
        assert_eq!(plain.split(' ').next(), Some(midpoint.as_str()));
    }

    #[test]
    fn points_that_all_lie_on_asymptotes_tell_no_curve() {
        let x = ["0", "1", "2", "4", "8", "16"];
        let refused = fitted(&x, &["7.68", "4.7", "4.7", "4.7", "4.7", "4.7"]);
        assert!(refused.unwrap_err().contains("does not settle"));
    }
}
