//! Recovery: whether it differs from one, when it is corrected for, and what that adds.
//!
//! Promises the test of QUAM:2012.P1, example A4, and the window of Implementing Regulation (EU)
//! 2023/2782, Annex II: no correction from 90 % to 110 %. Refuses a recovery that is not above
//! zero; a correction is applied once.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::doubt::upper_probability;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, figures, minus, not_negative, out_of_range, over, positive, root_of_squares,
    square_root, times,
};
use crate::statistics::distributions::student_t_quantile;

/// Recoveries as fractions: 0.9 for 90 %.
///
/// ```
/// use domain::uncertainty::recovery::{RecoveryInputs, recovery_test};
/// // QUAM:2012.P1, example A4: t = 2.31 against 2.02.
/// let inputs: RecoveryInputs = serde_json::from_str(
///     r#"{"recovery":"0.9","standard_deviation":"0.28","determinations":42}"#)?;
/// assert!(recovery_test(&inputs).unwrap().significant);
/// let alone = RecoveryInputs { determinations: 1, ..inputs };
/// assert_eq!(recovery_test(&alone).unwrap_err().quantity(), "determinations of the recovery");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RecoveryInputs {
    /// Mean recovery, a fraction above zero.
    pub recovery: Number,
    /// Standard deviation of single recoveries, above zero.
    pub standard_deviation: Number,
    /// How many, 2 or more.
    pub determinations: u32,
    /// Two-sided level of the test in percent; 95 where none is given.
    #[serde(default = "ninety_five")]
    pub level_percent: Number,
}

const fn ninety_five() -> Number {
    Number(Decimal::from_parts(95, 0, 0, false, 0))
}

/// Whether a mean recovery differs from one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RecoveryTest {
    /// u of the mean recovery, s / √n.
    pub standard_uncertainty: Number,
    /// u as a fraction of the recovery.
    pub relative: Number,
    /// |1 - R| / u.
    pub t: Number,
    /// n - 1.
    pub degrees_of_freedom: u32,
    /// Student's two-sided quantile of the level.
    pub critical_t: Number,
    /// Whether t is above it: the recovery differs from one, and results are corrected for it.
    pub significant: bool,
}

/// Tests a mean recovery against one.
///
/// # Errors
/// Fewer than two determinations, a recovery or standard deviation that is not above zero.
pub fn recovery_test(inputs: &RecoveryInputs) -> Answer<RecoveryTest> {
    let name = "recovery";
    let recovery = positive(name, inputs.recovery)?;
    let deviation = positive(
        "standard deviation of the recovery",
        inputs.standard_deviation,
    )?;
    let count = usize::try_from(inputs.determinations).unwrap_or(usize::MAX);
    at_least("determinations of the recovery", count, 2)?;
    let standard = over(
        name,
        deviation,
        square_root(name, Decimal::from(inputs.determinations))?,
    )?;
    let away = minus(name, Decimal::ONE, recovery)?.abs();
    let t = over("t of the recovery", away, standard)?;
    let degrees_of_freedom = inputs.determinations.saturating_sub(1);
    let upper = upper_probability(name, inputs.level_percent)?;
    let critical = student_t_quantile(upper, degrees_of_freedom.into())?;
    Ok(RecoveryTest {
        standard_uncertainty: figures(standard),
        relative: figures(over(name, standard, recovery)?),
        t: figures(t),
        degrees_of_freedom,
        critical_t: figures(critical),
        significant: t > critical,
    })
}

/// When a result is corrected for recovery.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "when", rename_all = "kebab-case", deny_unknown_fields)]
pub enum CorrectionRule {
    /// Where the recovery lies outside a window; Implementing Regulation (EU) 2023/2782: below
    /// 0.9 or above 1.1. The ends themselves need none.
    OutsideWindow {
        /// Lower end, a fraction.
        #[serde(default = "ninety")]
        lowest: Number,
        /// Upper end, a fraction.
        #[serde(default = "hundred_and_ten")]
        highest: Number,
    },
    /// Always.
    Always {},
    /// Never.
    Never {},
}

const fn ninety() -> Number {
    Number(Decimal::from_parts(9, 0, 0, false, 1))
}

const fn hundred_and_ten() -> Number {
    Number(Decimal::from_parts(11, 0, 0, false, 1))
}

impl Default for CorrectionRule {
    fn default() -> Self {
        Self::OutsideWindow {
            lowest: ninety(),
            highest: hundred_and_ten(),
        }
    }
}

impl CorrectionRule {
    /// Whether a recovery is corrected for.
    ///
    /// # Errors
    /// A recovery that is not above zero, a window upside down.
    pub fn corrects(self, recovery: Number) -> Answer<bool> {
        let recovery = positive("recovery", recovery)?;
        match self {
            Self::Always {} => Ok(true),
            Self::Never {} => Ok(false),
            Self::OutsideWindow { lowest, highest } => {
                if lowest > highest {
                    let must = format!("at least the lower end, {lowest}");
                    return Err(out_of_range("upper end of the window", highest, must));
                }
                Ok(recovery < lowest.0 || recovery > highest.0)
            }
        }
    }
}

/// A result and the recovery of its method.
///
/// ```
/// use domain::uncertainty::recovery::{CorrectionInputs, correct};
/// let inputs: CorrectionInputs = serde_json::from_str(
///     r#"{"found":"8.4","standard_uncertainty":"0.6","recovery":"0.84",
///         "recovery_standard_uncertainty":"0.03"}"#)?;
/// let corrected = correct(&inputs).unwrap();
/// assert!(corrected.needed);
/// assert_eq!(corrected.value.to_string(), "10");
/// let within = CorrectionInputs { recovery: "0.9".parse().unwrap(), ..inputs };
/// assert_eq!(correct(&within).unwrap().value.to_string(), "8.4", "the window's end needs none");
/// let none = CorrectionInputs { recovery: "0".parse().unwrap(), ..inputs };
/// assert_eq!(correct(&none).unwrap_err().quantity(), "recovery");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct CorrectionInputs {
    /// What was found, not corrected, zero or more.
    pub found: Number,
    /// Its standard uncertainty, zero or more; 0 where none is given.
    #[serde(default = "zero")]
    pub standard_uncertainty: Number,
    /// Mean recovery, a fraction above zero.
    pub recovery: Number,
    /// Its standard uncertainty, zero or more; 0 where none is given.
    #[serde(default = "zero")]
    pub recovery_standard_uncertainty: Number,
    /// When it is corrected for; outside 0.9 to 1.1 where nothing is said.
    #[serde(default)]
    pub rule: CorrectionRule,
}

const fn zero() -> Number {
    Number(Decimal::ZERO)
}

/// A result after it was, or was not, corrected.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Corrected {
    /// Whether the rule asks for a correction.
    pub needed: bool,
    /// The value after it: found / recovery, or found.
    pub value: Number,
    /// Its standard uncertainty: with the recovery's where it was corrected.
    pub standard_uncertainty: Number,
    /// found / recovery, whether needed or not.
    pub value_if_corrected: Number,
    /// The standard uncertainty of that.
    pub standard_uncertainty_if_corrected: Number,
}

/// Corrects a result for recovery, where the rule asks for it.
///
/// u² = (u(found) / R)² + (found · u(R) / R²)²: the law of propagation, JCGM 100:2008, 5.1.2.
///
/// # Errors
/// A recovery that is not above zero, anything else below zero.
pub fn correct(inputs: &CorrectionInputs) -> Answer<Corrected> {
    let name = "corrected result";
    let found = not_negative("found", inputs.found)?;
    let standard = not_negative("standard uncertainty", inputs.standard_uncertainty)?;
    let recovery = positive("recovery", inputs.recovery)?;
    let of_recovery = not_negative(
        "standard uncertainty of the recovery",
        inputs.recovery_standard_uncertainty,
    )?;
    let needed = inputs.rule.corrects(inputs.recovery)?;
    let value = over(name, found, recovery)?;
    let by_recovery = over(name, times(name, value, of_recovery)?, recovery)?;
    let combined = root_of_squares(name, &[over(name, standard, recovery)?, by_recovery])?;
    let (kept, kept_standard) = if needed {
        (value, combined)
    } else {
        (found, standard)
    };
    Ok(Corrected {
        needed,
        value: figures(kept),
        standard_uncertainty: figures(kept_standard),
        value_if_corrected: figures(value),
        standard_uncertainty_if_corrected: figures(combined),
    })
}
