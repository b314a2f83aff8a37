//! The review of a validation: the routine controls of a period joined in, the cut-off set again.
//!
//! Promises that a control run is joined once, whatever periods overlap, and that each review
//! builds on those before it. Refuses a review of a study that has no cut-off of its own, and one
//! with fewer than two positives: Implementing Regulation (EU) 2023/2782, Annex II, point 4.2.

use chrono::{Months, NaiveDate};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::review::POSITIVES_A_BATCH;
use super::study::counted;
use super::{
    ControlKind, DeterminationOfBatch, RULES, ReviewInputs, ReviewReport, ScreeningStudy,
    ScreeningValidation, ScreeningValidationEntry, ScreeningValidationState, StudyDetermination,
    review,
};
use crate::control_materials::ControlMaterial;
use crate::id::{AccountId, ControlMaterialId, RunId, ScreeningValidationId};
use crate::quantity::exact::{Answer, at_least};
use crate::statistics::StatisticsError;
use crate::versions::{SubjectVersion, in_order};

/// The days whose control runs a review looks at; both ends are in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReviewPeriod {
    /// The first.
    pub from: NaiveDate,
    /// The last.
    pub to: NaiveDate,
}

/// A control material, and which control of the method it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReviewControl {
    /// The material.
    pub control_material: ControlMaterialId,
    /// Blank, or positive at the target.
    pub kind: ControlKind,
}

/// A control run of the routine that was joined in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct JoinedControl {
    /// The batch: the series' code, or the day where the run has no series.
    pub batch: String,
    /// What was run.
    pub control_material: ControlMaterialId,
    /// What it gave, with its run.
    pub determination: StudyDetermination,
}

/// A control run of the period that gave no number to join.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct LeftOutControl {
    /// The batch.
    pub batch: String,
    /// What was run.
    pub control_material: ControlMaterialId,
    /// Which run.
    pub run: RunId,
    /// The day it was read.
    pub on: NaiveDate,
    /// Blank, or positive at the target.
    pub kind: ControlKind,
    /// Why.
    pub why: String,
}

/// A review as it is recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ScreeningReview {
    /// The validation reviewed.
    pub validation: ScreeningValidationId,
    /// The days that were looked at.
    pub period: ReviewPeriod,
    /// The day of the review.
    pub on: NaiveDate,
    /// Who reviewed.
    pub by: AccountId,
    /// The day of the review before, or the last one of the validation.
    pub reviewed_on: NaiveDate,
    /// Which material is which control.
    pub controls: Vec<ReviewControl>,
    /// The control runs that were joined in.
    pub joined: Vec<JoinedControl>,
    /// Those that gave no number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<LeftOutControl>,
    /// What it came to.
    pub report: ReviewReport,
    /// The versions that were looked at.
    pub from: Vec<SubjectVersion>,
    /// The number of the rules.
    pub rules: u32,
}

/// Why there is no review.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScreeningReviewError {
    /// The validation is not in use.
    #[error("validation {code} is {}: only an adopted one is reviewed", .state.word())]
    NotAdopted {
        /// Its code.
        code: String,
        /// Its state.
        state: ScreeningValidationState,
    },
    /// The study has no cut-off of its own.
    #[error("validation {code} found no cut-off of its own: review the one that it builds on")]
    NotInFull {
        /// Its code.
        code: String,
    },
    /// The controls do not make a review.
    #[error("there is no review: {0}")]
    Incomplete(StatisticsError),
}

/// What a review is made of, before it is computed.
#[derive(Debug, Clone)]
pub struct ReviewDraft {
    /// The validation.
    pub validation: ScreeningValidationId,
    /// The days.
    pub period: ReviewPeriod,
    /// The day of the review.
    pub on: NaiveDate,
    /// Who reviews.
    pub by: AccountId,
    /// Which material is which control.
    pub controls: Vec<ReviewControl>,
    /// Control runs with a number or a bound.
    pub joined: Vec<JoinedControl>,
    /// Control runs without.
    pub left_out: Vec<LeftOutControl>,
    /// The versions of all that was looked at.
    pub from: Vec<SubjectVersion>,
}

impl ScreeningReview {
    /// Joins the routine controls in, and sets the cut-off again.
    ///
    /// # Errors
    /// [`ScreeningReviewError`].
    ///
    /// ```
    /// use domain::screening_validations::{ReviewDraft, ReviewPeriod, ScreeningReview,
    ///     ScreeningReviewError, ScreeningValidation};
    /// let draft = ScreeningValidation::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// let nothing = ReviewDraft {
    ///     validation: "019ca869-5003-7d46-b59c-6cf85cca57e8".parse()?,
    ///     period: ReviewPeriod { from: "2026-04-01".parse()?, to: "2027-02-28".parse()? },
    ///     on: "2027-03-01".parse()?, by: "019ca869-5003-7d46-b59c-6cf85cca57e6".parse()?,
    ///     controls: vec![], joined: vec![], left_out: vec![], from: vec![] };
    /// let refusal = ScreeningReview::of(nothing, &draft, &[]);
    /// assert!(matches!(refusal, Err(ScreeningReviewError::NotAdopted { .. })));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(
        draft: ReviewDraft,
        validation: &ScreeningValidation,
        earlier: &[&Self],
    ) -> Result<Self, ScreeningReviewError> {
        let code = validation.entry.code.clone();
        if validation.state != ScreeningValidationState::Adopted {
            let state = validation.state;
            return Err(ScreeningReviewError::NotAdopted { code, state });
        }
        if !validation.entry.is_in_full() {
            return Err(ScreeningReviewError::NotInFull { code });
        }
        let mut joined = draft.joined;
        joined.sort_by_key(place);
        let reviewed_on = reviewed_on(&validation.entry, earlier).unwrap_or(draft.on);
        let report = report(&validation.entry, earlier, &joined, (reviewed_on, draft.on))
            .map_err(ScreeningReviewError::Incomplete)?;
        Ok(Self {
            validation: draft.validation,
            period: draft.period,
            on: draft.on,
            by: draft.by,
            reviewed_on,
            controls: draft.controls,
            joined,
            left_out: draft.left_out,
            report,
            from: in_order(draft.from),
            rules: RULES,
        })
    }

    /// The cut-off from this review on.
    #[must_use]
    pub const fn cut_off(&self) -> crate::quantity::Number {
        self.report.after.rounded_cut_off
    }
}

fn place(one: &JoinedControl) -> (NaiveDate, Option<RunId>) {
    (one.determination.on, one.determination.run)
}

/// The day of the last review, or the last day of the validation.
pub(super) fn reviewed_on(
    validation: &ScreeningValidationEntry,
    earlier: &[&ScreeningReview],
) -> Option<NaiveDate> {
    let last = earlier.iter().map(|one| one.on).max();
    last.or_else(|| validation.determinations.iter().map(|one| one.on).max())
}

impl ScreeningValidationEntry {
    /// The last day of the year within which the next review is due; none without determinations.
    ///
    /// ```
    /// use domain::screening_validations::ScreeningValidationEntry;
    /// let entry: ScreeningValidationEntry =
    ///     serde_json::from_str(include_str!("example.json"))?;
    /// assert_eq!(entry.review_due_on(None), "2027-03-06".parse().ok());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn review_due_on(&self, last: Option<&ScreeningReview>) -> Option<NaiveDate> {
        let earlier: Vec<&ScreeningReview> = last.into_iter().collect();
        reviewed_on(self, &earlier)?.checked_add_months(Months::new(12))
    }
}

/// What a review comes to; `days` are that of the last one and that of this one.
pub(super) fn report(
    validation: &ScreeningValidationEntry,
    earlier: &[&ScreeningReview],
    joined: &[JoinedControl],
    (reviewed_on, on): (NaiveDate, NaiveDate),
) -> Answer<ReviewReport> {
    let positive = |one: &&JoinedControl| one.determination.kind == ControlKind::Positive;
    let positives = joined.iter().filter(positive).count();
    at_least(
        "control runs at the target in the period",
        positives,
        POSITIVES_A_BATCH,
    )?;
    let own_laboratory = match validation.study {
        ScreeningStudy::BetweenLaboratories { own_laboratory } => own_laboratory,
        ScreeningStudy::WithinLaboratory {}
        | ScreeningStudy::AddedCommodity { .. }
        | ScreeningStudy::Verification { .. } => None,
    };
    let of_batch = |one: &JoinedControl| {
        let mut control = counted(&one.determination, validation.below_counted_as)?;
        control.laboratory = own_laboratory;
        Ok(DeterminationOfBatch {
            batch: one.batch.clone(),
            control,
        })
    };
    let before = earlier.iter().flat_map(|review| &review.joined);
    review(&ReviewInputs {
        validation: validation.inputs()?,
        joined_before: before.map(of_batch).collect::<Answer<_>>()?,
        routine: joined.iter().map(of_batch).collect::<Answer<_>>()?,
        reviewed_on,
        on,
    })
}

/// Why a material is not the control that it is stated to be; none where it may be. A blank's
/// assigned value is at most a fifth of the target (Annex II); a positive's window contains the
/// target (common practice, no source: the regulation says *at* the target).
///
/// ```
/// use domain::control_materials::ControlMaterial;
/// use domain::screening_validations::{ControlKind, ScreeningValidationEntry,
///     not_the_control};
/// let entry: ScreeningValidationEntry = serde_json::from_str(include_str!("example.json"))?;
/// let material: ControlMaterial = serde_json::from_str(
///     r#"{"code":"CM-20","name":"maize","commodity":"maize-grain","lot":"2026-A",
///         "analytes":[{"analyte":"aflatoxin-total","assigned_value":"19.6","lower":"15",
///         "upper":"24"}],"expires_on":"2027-01-31"}"#)?;
/// assert_eq!(not_the_control(&entry, ControlKind::Positive, &material), None);
/// assert!(not_the_control(&entry, ControlKind::Negative, &material).is_some());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn not_the_control(
    validation: &ScreeningValidationEntry,
    kind: ControlKind,
    material: &ControlMaterial,
) -> Option<String> {
    let code = &material.code;
    let Some(assigned) = material.assigned(validation.analyte) else {
        return Some(format!(
            "{code} has no assigned value of {}",
            validation.analyte
        ));
    };
    let target = validation.screening_target;
    let fits = match kind {
        ControlKind::Negative => assigned
            .assigned_value
            .ug_per_kg()
            .checked_mul(Decimal::from(5))
            .is_some_and(|five| five <= target.0),
        ControlKind::Positive => {
            assigned.lower.ug_per_kg() <= target.0 && target.0 <= assigned.upper.ug_per_kg()
        }
    };
    (!fits).then(|| match kind {
        ControlKind::Negative => format!(
            "{code} is assigned {} µg/kg: a blank has at most a fifth of the target, {target}",
            assigned.assigned_value
        ),
        ControlKind::Positive => format!(
            "{code} has the window {} to {} µg/kg: that of a positive contains the target, {target}",
            assigned.lower, assigned.upper
        ),
    })
}
