//! From signals to a response, and from a response to what the curve makes of it.
//!
//! Promises the range that signals cut to their places leave open. Refuses nothing: what cannot be
//! computed is left out.

use rust_decimal::{Decimal, RoundingStrategy};

use super::{FromSignals, StripSignals};
use crate::kit_lots::{CurveResponse, KitLotCurve};
use crate::quantity::{Concentration, Number};
use crate::statistics::logistic::{OnCurve, read_from_curve};

/// Figures that a concentration of the curve is shown and compared with.
const FIGURES: u32 = 6;

/// What was taken of the signals.
pub(super) enum Taken {
    /// The control line has no signal.
    NoRatio,
    /// A response.
    Response(Response),
}

/// A response, and the range that its signals' places leave open.
pub(super) struct Response {
    least: Decimal,
    at: Decimal,
    most: Decimal,
}

/// What the curve makes of a response: a range without an end reaches above the curve.
pub(super) struct Found {
    pub(super) response: Number,
    pub(super) from_signals: FromSignals,
    /// Absent where all of it is above the curve.
    pub(super) least: Option<Decimal>,
    /// Absent where it reaches above the curve.
    pub(super) most: Option<Decimal>,
}

/// Half a unit of the last place that a number is written with.
pub(super) fn half_a_unit(number: Number) -> Decimal {
    Decimal::new(5, number.0.scale().saturating_add(1).min(28))
}

/// The response that a curve is of; none where a signal for it is missing.
pub(super) fn taken(signals: StripSignals, of: CurveResponse) -> Option<Taken> {
    let test = signals.test_line?;
    let half = half_a_unit(test);
    let least = test.0.checked_sub(half)?.max(Decimal::ZERO);
    let most = test.0.checked_add(half)?;
    let control = match of {
        CurveResponse::TestLine => {
            return Some(Taken::Response(Response {
                least,
                at: test.0,
                most,
            }));
        }
        CurveResponse::TestOverControl => signals.control_line?,
    };
    if control.0.is_zero() {
        return Some(Taken::NoRatio);
    }
    let half = half_a_unit(control);
    // One at the last of 28 places is less than half a unit that can be kept.
    let weakest = control.0.checked_sub(half)?;
    if weakest <= Decimal::ZERO {
        return None;
    }
    Some(Taken::Response(Response {
        least: least.checked_div(control.0.checked_add(half)?)?,
        at: test.0.checked_div(control.0)?,
        most: most.checked_div(weakest)?,
    }))
}

impl Response {
    /// Read from a curve, with its tolerance; none where the curve cannot be read from.
    pub(super) fn on(&self, curve: &KitLotCurve) -> Option<Found> {
        let read = |response: Decimal| read_from_curve(&curve.curve, Number(response)).ok();
        let (one, other) = (read(self.least)?, read(self.most)?);
        let (low, high) = (one.min(other), one.max(other));
        let from_signals = match read(self.at)? {
            OnCurve::At(x) => FromSignals::Number {
                value: Concentration::from_ug_per_kg(figures(
                    x.0.max(Decimal::ZERO),
                    RoundingStrategy::MidpointNearestEven,
                )?),
            },
            OnCurve::BelowAll => FromSignals::BelowCurve,
            OnCurve::AboveAll => FromSignals::AboveCurve,
        };
        Some(Found {
            response: Number(figures(self.at, RoundingStrategy::MidpointNearestEven)?),
            from_signals,
            least: end(low, |x| {
                let least = x.checked_sub(allowed(curve, x)?)?.max(Decimal::ZERO);
                figures(least, RoundingStrategy::ToZero)
            })?,
            most: end(high, |x| {
                figures(
                    x.checked_add(allowed(curve, x)?)?,
                    RoundingStrategy::AwayFromZero,
                )
            })?,
        })
    }
}

/// An end of the range: nothing above the curve, zero below it; none where it cannot be kept.
#[expect(
    clippy::option_option,
    reason = "no end, and one that cannot be kept, are different"
)]
fn end(
    place: OnCurve,
    widened: impl FnOnce(Decimal) -> Option<Decimal>,
) -> Option<Option<Decimal>> {
    match place {
        OnCurve::AboveAll => Some(None),
        OnCurve::BelowAll => widened(Decimal::ZERO).map(Some),
        OnCurve::At(x) => widened(x.0.max(Decimal::ZERO)).map(Some),
    }
}

/// What the laboratory allows between a concentration and the reader's number.
fn allowed(curve: &KitLotCurve, x: Decimal) -> Option<Decimal> {
    let Some(tolerance) = curve.tolerance else {
        return Some(Decimal::ZERO);
    };
    let constant = tolerance.constant.map_or(Decimal::ZERO, |c| c.ug_per_kg());
    let proportional = tolerance.proportional.map_or(Decimal::ZERO, |part| part.0);
    constant.checked_add(proportional.checked_mul(x)?)
}

fn figures(value: Decimal, strategy: RoundingStrategy) -> Option<Decimal> {
    let rounded = value.round_sf_with_strategy(FIGURES, strategy)?;
    Some(rounded.normalize())
}
