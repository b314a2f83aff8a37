//! Integrals, by the kept library's Gauss-Legendre rule over equal pieces.

use gauss_quad::GaussLegendre;

use super::door::size;
use super::error::{Answer, StatisticsError};

/// Nodes of the rule in each piece.
const NODES: usize = 20;

/// The integral of a smooth function over equal pieces of an interval.
pub(super) fn integral(
    quantity: &str,
    (from, to): (f64, f64),
    pieces: usize,
    function: impl Fn(f64) -> f64,
) -> Answer<f64> {
    let rule = GaussLegendre::new(NODES)
        .map_err(|error| StatisticsError::unsettled(quantity, error.to_string()))?;
    let width = (to - from) / size(pieces);
    Ok((0..pieces)
        .map(|piece| {
            let start = from + width * size(piece);
            rule.integrate(start, start + width, &function)
        })
        .sum())
}
