//! Validation of a screening method: cut-off, false-suspect rate, verification, yearly review.
//!
//! Promises Annex II of Implementing Regulation (EU) 2023/2782, and of Regulation (EC) No 401/2006
//! as amended by No 519/2014 for methods validated before: 20 blanks and 20 positives over five
//! days, a cut-off that 95 % of samples at the target pass, and the rate of false suspects.
//! Refuses sets that are too small, did not scatter or did not span their days.
//!
//! A stored validation is what a person entered; adopting it records the figures beside it, with
//! the number of the rules: they are what somebody signed, and a verifier computes them again.

mod again;
mod entry;
mod groups;
mod reading;
mod report;
mod review;
mod states;
mod study;
mod yearly;

pub use again::NamedBeside;
pub use entry::{
    BelowCountedAs, DISCLOSED, MOST_DETERMINATIONS, ScreeningResponse, ScreeningStudy,
    ScreeningValidationEntry, StatedCutOff, StudyDetermination,
};
pub use groups::CommodityGroup;
pub use reading::{NoNumber, ReadByRun, read_by_run};
pub use report::{
    ControlDetermination, ControlKind, ValidationInputs, ValidationKind, ValidationReport, validate,
};
pub use review::{
    DeterminationOfBatch, ReviewInputs, ReviewReport, VerificationInputs, VerificationReport,
    VerifiedControl, review, verify,
};
pub use states::{
    ScreeningAdoption, ScreeningValidation, ScreeningValidationError, ScreeningValidationState,
};
pub use study::{RULES, StudyReport};
pub use yearly::{
    JoinedControl, LeftOutControl, ReviewControl, ReviewDraft, ReviewPeriod, ScreeningReview,
    ScreeningReviewError, not_the_control,
};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::quantity::exact::{Answer, at_least, out_of_range};

/// By which law a method is validated.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum ValidationLaw {
    /// Implementing Regulation (EU) 2023/2782, from 2024-04-01.
    #[default]
    #[serde(rename = "eu-2023-2782")]
    Eu2023,
    /// Regulation (EC) No 401/2006 as amended by No 519/2014, for methods validated before; they
    /// may go on until 2028-12-31.
    #[serde(rename = "eu-519-2014")]
    Eu2014,
}

impl ValidationLaw {
    /// The law, for people.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Eu2023 => "Implementing Regulation (EU) 2023/2782, Annex II",
            Self::Eu2014 => {
                "Regulation (EC) No 401/2006, Annex II, as amended by Regulation (EU) No 519/2014"
            }
        }
    }

    /// The law and the point of its annex that says how a method is validated, for people.
    ///
    /// ```
    /// use domain::screening_validations::ValidationLaw;
    /// assert!(ValidationLaw::Eu2023.name_with_place().ends_with("Annex II, point 4.2"));
    /// ```
    #[must_use]
    pub fn name_with_place(self) -> String {
        match self {
            Self::Eu2023 => format!("{}, point 4.2", self.name()),
            Self::Eu2014 => format!("{}, point 4.3", self.name()),
        }
    }

    /// Refuses a validation on a day on which the law did not take one.
    pub(crate) fn admit(self, first_day: NaiveDate, last_day: NaiveDate) -> Answer<()> {
        let day = |year, month, day| NaiveDate::from_ymd_opt(year, month, day);
        let wrong = match self {
            Self::Eu2023 => None,
            Self::Eu2014 => day(2024, 4, 1).filter(|new| last_day >= *new).map(|_new| {
                out_of_range(
                    "last day of the validation",
                    last_day,
                    "before 2024-04-01 for a method validated by the earlier law",
                )
            }),
        };
        if first_day > last_day {
            return Err(out_of_range(
                "last day",
                last_day,
                format!("not before {first_day}"),
            ));
        }
        wrong.map_or(Ok(()), Err)
    }

    /// Whether a method validated by the law may still be used on a day (2023/2782, article 4).
    ///
    /// ```
    /// use domain::screening_validations::ValidationLaw;
    /// assert!(ValidationLaw::Eu2014.may_be_used_on("2028-12-31".parse().unwrap()));
    /// assert!(!ValidationLaw::Eu2014.may_be_used_on("2029-01-01".parse().unwrap()));
    /// ```
    #[must_use]
    pub fn may_be_used_on(self, on: NaiveDate) -> bool {
        match self {
            Self::Eu2023 => true,
            Self::Eu2014 => NaiveDate::from_ymd_opt(2029, 1, 1).is_some_and(|end| on < end),
        }
    }
}

/// Refuses fewer than the law asks for.
fn enough(what: &str, given: usize, needed: usize) -> Answer<()> {
    at_least(what, given, needed)
}

#[cfg(test)]
mod tests;
