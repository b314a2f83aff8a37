//! What a standard allows a balance to be wrong by.
//!
//! Promises the maximum permissible errors of OIML R 76-1:2006, table 6, from memory: a balance's
//! own certificate goes before them. Refuses loads below zero and intervals that are none.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::doubt::{Doubt, Shape};
use crate::quantity::Number;
use crate::quantity::exact::{Answer, figures, not_negative, over, positive, times};

/// The accuracy class of a balance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum BalanceClass {
    /// Special.
    I,
    /// High.
    II,
    /// Medium.
    III,
    /// Ordinary.
    IIII,
}

/// A balance and what lies on it.
///
/// ```
/// use domain::uncertainty::balances::{BalanceInputs, balance};
/// let inputs: BalanceInputs = serde_json::from_str(
///     r#"{"class":"II","load_g":"50","verification_interval_g":"0.01"}"#)?;
/// assert_eq!(balance(&inputs).unwrap().verification_g.to_string(), "0.005");
/// let none = BalanceInputs { verification_interval_g: "0".parse().unwrap(), ..inputs };
/// assert_eq!(balance(&none).unwrap_err().quantity(), "verification scale interval");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct BalanceInputs {
    /// Its class.
    pub class: BalanceClass,
    /// What lies on it, in g, zero or more.
    pub load_g: Number,
    /// e, in g, above zero.
    pub verification_interval_g: Number,
    /// How values are spread between the limits; rectangular where nothing is said.
    #[serde(default)]
    pub shape: Shape,
}

/// What a balance may be wrong by at its load.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct BalanceLimits {
    /// The load in units of e.
    pub load_in_intervals: Number,
    /// The limit in units of e.
    pub limit_in_intervals: Number,
    /// Maximum permissible error on verification, ± g.
    pub verification_g: Number,
    /// The same in service: twice as much, ± g.
    pub in_service_g: Number,
    /// The standard uncertainty of the limit on verification, in g.
    pub verification_standard_uncertainty_g: Number,
    /// The same for the limit in service, in g.
    pub in_service_standard_uncertainty_g: Number,
    /// Where the limits come from.
    pub source: String,
}

/// What OIML R 76-1:2006, table 6, allows a balance (from memory): 0.5 e up to a first load, 1 e
/// up to a second, 1.5 e above.
///
/// # Errors
/// A load below zero, an interval that is not above zero.
pub fn balance(inputs: &BalanceInputs) -> Answer<BalanceLimits> {
    let interval = positive(
        "verification scale interval",
        inputs.verification_interval_g,
    )?;
    let load = not_negative("load", inputs.load_g)?;
    let intervals = over("load", load, interval)?;
    let (first, second) = match inputs.class {
        BalanceClass::I => (50_000, 200_000),
        BalanceClass::II => (5_000, 20_000),
        BalanceClass::III => (500, 2_000),
        BalanceClass::IIII => (50, 200),
    };
    let limit = if intervals <= Decimal::from(first) {
        Decimal::new(5, 1)
    } else if intervals <= Decimal::from(second) {
        Decimal::ONE
    } else {
        Decimal::new(15, 1)
    };
    let verification = times("limit", limit, interval)?;
    let in_service = times("limit", verification, Decimal::TWO)?;
    let standard = |half_width: Decimal| {
        Doubt::HalfWidth {
            half_width: Number(half_width),
            shape: inputs.shape,
            relative: false,
        }
        .standard("limit", load)
        .map(figures)
    };
    Ok(BalanceLimits {
        load_in_intervals: figures(intervals),
        limit_in_intervals: figures(limit),
        verification_g: figures(verification),
        in_service_g: figures(in_service),
        verification_standard_uncertainty_g: standard(verification)?,
        in_service_standard_uncertainty_g: standard(in_service)?,
        source: "OIML R 76-1:2006, table 6 (from memory)".to_owned(),
    })
}
