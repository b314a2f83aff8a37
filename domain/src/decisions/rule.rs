//! Decision rules as zones along the scale of values.
//!
//! Promises that every rule is a list of cuts in rising order, so that a number falls in one zone
//! and a bound decides only where all values that it leaves open fall in the same one. Refuses
//! negative guard factors and cut-offs that cannot be.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::limits::{Comparison, Limit};
use crate::quantity::{Concentration, Number};
use crate::rounding::{RoundTo, Rounding, TieRule};

use super::{Finding, Undecided, Verdict};

/// How a result is compared with a limit.
///
/// ```
/// use domain::decisions::{DecisionRule, RuleError};
/// let rule: DecisionRule = serde_json::from_str(r#"{"rule":"guarded-acceptance"}"#)?;
/// assert_eq!(rule.check(), Ok(()), "the guard band is the whole uncertainty where none is said");
/// let bad: DecisionRule =
///     serde_json::from_str(r#"{"rule":"guarded-acceptance","guard_factor":"-1"}"#)?;
/// assert!(matches!(bad.check(), Err(RuleError::NegativeGuard(_))));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(tag = "rule", rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum DecisionRule {
    /// The value against the limit, without a guard band: ILAC-G8 4.2.1.
    Simple,
    /// The value rounded to the limit's own places, then compared: ASTM E29, rounding method.
    Rounded {
        /// What happens at a tie.
        tie: TieRule,
    },
    /// Pass only a guard band below the limit: ILAC-G8 4.2.2.
    GuardedAcceptance {
        /// r in w = r x U, zero or more.
        #[serde(default = "one")]
        guard_factor: Number,
    },
    /// Fail only a guard band above the limit, beyond reasonable doubt: Implementing Regulation
    /// (EU) 2023/2782.
    GuardedRejection {
        /// r in w = r x U, zero or more.
        #[serde(default = "one")]
        guard_factor: Number,
    },
    /// Pass, conditional pass, conditional fail, fail: ILAC-G8 4.2.3.
    NonBinary {
        /// r in w = r x U, zero or more.
        #[serde(default = "one")]
        guard_factor: Number,
    },
    /// Negative or suspect: Implementing Regulation (EU) 2023/2782, Annex II.
    Screening {
        /// The concentration that the screening was validated to find, where it is stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        target: Option<Concentration>,
        /// Above this the sample is suspect; not above the target.
        cut_off: Concentration,
    },
}

const fn one() -> Number {
    Number(Decimal::ONE)
}

/// Why a rule cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RuleError {
    /// A guard factor below zero.
    #[error("a guard factor of {0} is below zero")]
    NegativeGuard(Number),
    /// A cut-off that is negative or above the screening target.
    #[error("a cut-off of {cut_off} µg/kg must lie from 0 to the screening target of {target}")]
    CutOffOutside {
        /// The cut-off.
        cut_off: Concentration,
        /// The target.
        target: Concentration,
    },
}

/// A place on the scale; `inclusive` where reaching it is over it already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cut {
    pub(super) at: Decimal,
    pub(super) inclusive: bool,
}

impl Cut {
    fn is_passed_by(self, value: Decimal) -> bool {
        value > self.at || (self.inclusive && value == self.at)
    }
}

/// What of a limit a rule compares with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Bar {
    /// µg/kg, with the places that the limit is written with.
    pub(super) value: Decimal,
    pub(super) comparison: Comparison,
}

impl From<&Limit> for Bar {
    fn from(limit: &Limit) -> Self {
        Self {
            value: limit.value.ug_per_kg(),
            comparison: limit.comparison,
        }
    }
}

/// Verdicts up to each cut, in rising order, and beyond the last.
#[derive(Debug, Clone)]
pub(super) struct Zones {
    pub(super) cuts: Vec<(Cut, Verdict)>,
    pub(super) beyond: Verdict,
    pub(super) guard_band: Option<Decimal>,
}

impl Zones {
    pub(super) fn verdict(&self, finding: Finding) -> Result<Verdict, Undecided> {
        match finding {
            Finding::Quantified { value } => {
                Ok(self.first(|cut| !cut.is_passed_by(value.ug_per_kg())))
            }
            Finding::NotDetected { below: bound }
            | Finding::DetectedBelow { loq: bound, .. }
            | Finding::Below { bound } => self.below(bound),
            Finding::Above { bound } => self.above(bound),
        }
    }

    fn first(&self, stops: impl Fn(&Cut) -> bool) -> Verdict {
        let found = self.cuts.iter().find(|(cut, _)| stops(cut));
        found.map_or(&self.beyond, |(_, verdict)| verdict).clone()
    }

    /// The true value lies from zero to below the bound: decided if that is all one zone, the
    /// best one.
    fn below(&self, bound: Concentration) -> Result<Verdict, Undecided> {
        let Some((cut, best)) = self.cuts.first() else {
            return Err(Undecided::Uncomputable);
        };
        if cut.is_passed_by(Decimal::ZERO) {
            Err(Undecided::GuardBandTooWide)
        } else if bound.ug_per_kg() > cut.at {
            Err(Undecided::CannotSeeThatLow { bound })
        } else {
            Ok(best.clone())
        }
    }

    /// The true value lies above the bound: decided if that is all beyond the last cut.
    fn above(&self, bound: Concentration) -> Result<Verdict, Undecided> {
        if self.cuts.iter().all(|(cut, _)| bound.ug_per_kg() >= cut.at) {
            Ok(self.beyond.clone())
        } else {
            Err(Undecided::OverRangeTooEarly { bound })
        }
    }
}

impl DecisionRule {
    /// Checks the rule's own numbers.
    ///
    /// # Errors
    /// [`RuleError`].
    pub fn check(&self) -> Result<(), RuleError> {
        match self {
            Self::Simple | Self::Rounded { .. } => Ok(()),
            Self::GuardedAcceptance { guard_factor }
            | Self::GuardedRejection { guard_factor }
            | Self::NonBinary { guard_factor } => {
                if guard_factor.0 < Decimal::ZERO {
                    Err(RuleError::NegativeGuard(*guard_factor))
                } else {
                    Ok(())
                }
            }
            Self::Screening { target, cut_off } => {
                let target = target.unwrap_or(*cut_off);
                if cut_off.ug_per_kg() < Decimal::ZERO || *cut_off > target {
                    Err(RuleError::CutOffOutside {
                        cut_off: *cut_off,
                        target,
                    })
                } else {
                    Ok(())
                }
            }
        }
    }

    /// Whether a negative by this rule would say less than the limit asks for.
    pub(super) fn screens_above(&self, limit: &Limit) -> bool {
        matches!(self, Self::Screening { target, cut_off }
            if target.unwrap_or(*cut_off) > limit.value)
    }

    /// The zones of the rule around a limit. Where a strip must be taken as screening, there are
    /// two: negative up to where the rule would pass, yet never above the limit, then suspect.
    pub(super) fn zones(
        &self,
        limit: Bar,
        expanded: Option<Decimal>,
        must_screen: bool,
    ) -> Result<Zones, Undecided> {
        let plain = Cut {
            at: limit.value,
            inclusive: limit.comparison == Comparison::AtOrAbove,
        };
        if must_screen && matches!(self, Self::GuardedRejection { .. }) {
            return Ok(two(plain, Verdict::Negative, Verdict::Suspect, None));
        }
        let zones = self.own_zones(limit, plain, expanded)?;
        if !must_screen {
            return Ok(zones);
        }
        let strictest = zones
            .cuts
            .first()
            .map(|(cut, _)| *cut)
            .filter(|cut| cut.at <= plain.at);
        let cut = strictest.unwrap_or(plain);
        Ok(two(
            cut,
            Verdict::Negative,
            Verdict::Suspect,
            zones.guard_band,
        ))
    }

    fn own_zones(
        &self,
        limit: Bar,
        plain: Cut,
        expanded: Option<Decimal>,
    ) -> Result<Zones, Undecided> {
        let band = |guard_factor: &Number| {
            let expanded = expanded.ok_or(Undecided::NoUncertainty)?;
            guard_factor
                .0
                .checked_mul(expanded)
                .ok_or(Undecided::Uncomputable)
        };
        let moved = |by: Decimal| {
            let at = plain.at.checked_add(by).ok_or(Undecided::Uncomputable)?;
            Ok(Cut {
                at,
                inclusive: plain.inclusive,
            })
        };
        match self {
            Self::Simple => Ok(two(plain, Verdict::Pass, Verdict::Fail, None)),
            Self::Rounded { tie } => Ok(two(
                rounding_cut(limit, *tie)?,
                Verdict::Pass,
                Verdict::Fail,
                None,
            )),
            Self::GuardedAcceptance { guard_factor } => {
                let band = band(guard_factor)?;
                Ok(two(moved(-band)?, Verdict::Pass, Verdict::Fail, Some(band)))
            }
            Self::GuardedRejection { guard_factor } => {
                let band = band(guard_factor)?;
                Ok(two(moved(band)?, Verdict::Pass, Verdict::Fail, Some(band)))
            }
            Self::NonBinary { guard_factor } => {
                let band = band(guard_factor)?;
                Ok(Zones {
                    cuts: vec![
                        (moved(-band)?, Verdict::Pass),
                        (plain, Verdict::ConditionalPass),
                        (moved(band)?, Verdict::ConditionalFail),
                    ],
                    beyond: Verdict::Fail,
                    guard_band: Some(band),
                })
            }
            Self::Screening { cut_off, .. } => {
                let cut = Cut {
                    at: cut_off.ug_per_kg(),
                    inclusive: false,
                };
                Ok(two(cut, Verdict::Negative, Verdict::Suspect, None))
            }
        }
    }
}

fn two(cut: Cut, within: Verdict, beyond: Verdict, guard_band: Option<Decimal>) -> Zones {
    Zones {
        cuts: vec![(cut, within)],
        beyond,
        guard_band,
    }
}

fn limit_places(limit: Bar, tie: TieRule) -> Rounding {
    Rounding {
        to: RoundTo::Places(limit.value.scale()),
        tie,
    }
}

/// Where, on the scale of unrounded values, the rounded one begins to be over the limit: half a
/// last place above it, or below it where reaching it is over. The tie rule says on which side
/// the place itself lies.
fn rounding_cut(limit: Bar, tie: TieRule) -> Result<Cut, Undecided> {
    let value = limit.value;
    let half = Decimal::try_new(5, value.scale().saturating_add(1))
        .map_err(|_out_of_range| Undecided::Uncomputable)?;
    let at = match limit.comparison {
        Comparison::Exceeds => value.checked_add(half),
        Comparison::AtOrAbove => value.checked_sub(half),
    }
    .ok_or(Undecided::Uncomputable)?;
    let rounded = limit_places(limit, tie)
        .apply(at)
        .map_err(|_out_of_range| Undecided::Uncomputable)?;
    let inclusive = match limit.comparison {
        Comparison::Exceeds => rounded > value,
        Comparison::AtOrAbove => rounded >= value,
    };
    Ok(Cut { at, inclusive })
}

/// What the rule compares: a number rounded to the limit's places; a bound stays as it is.
pub(super) fn rounded(finding: Finding, limit: Bar, tie: TieRule) -> Result<Finding, Undecided> {
    let Some(value) = finding.quantified() else {
        return Ok(finding);
    };
    limit_places(limit, tie)
        .apply(value.ug_per_kg())
        .map(|value| Finding::Quantified {
            value: Concentration::from_ug_per_kg(value),
        })
        .map_err(|_out_of_range| Undecided::Uncomputable)
}
