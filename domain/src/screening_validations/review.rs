//! What follows a validation: verification in another laboratory, added commodities, the yearly
//! review with the controls of routine batches joined in.

use chrono::{Months, NaiveDate};
use serde::{Deserialize, Serialize};

use super::enough;
use super::report::{ControlDetermination, ValidationInputs, ValidationReport, validate};
use crate::quantity::Number;
use crate::quantity::exact::{Answer, figures, minus, out_of_range};
use crate::statistics::screening::{ResponseDirection, is_suspect};

/// A control of a verification.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct VerifiedControl {
    /// Blank or at the target.
    pub kind: super::ControlKind,
    /// The response.
    pub response: Number,
}

/// A verification.
///
/// ```
/// use domain::screening_validations::{VerificationInputs, verify};
/// let controls = |positive: &str| format!(r#"{{"response":"falling","cut_off":"0.42",
///     "added_commodity":false,"controls":[{}]}}"#, [
///     vec![r#"{"kind":"negative","response":"0.51"}"#.to_owned(); 6],
///     vec![format!(r#"{{"kind":"positive","response":"{positive}"}}"#); 6]].concat().join(","));
/// let good: VerificationInputs = serde_json::from_str(&controls("0.38"))?;
/// assert!(verify(&good).unwrap().passed);
/// let bad: VerificationInputs = serde_json::from_str(&controls("0.43"))?;
/// assert!(!verify(&bad).unwrap().passed, "above the cut-off is the good side here");
/// let few = VerificationInputs { added_commodity: true, ..good };
/// assert!(verify(&few).is_err(), "an added commodity takes ten of each");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct VerificationInputs {
    /// How the response changes with the concentration.
    pub response: ResponseDirection,
    /// The cut-off of the validation.
    pub cut_off: Number,
    /// Whether a commodity is added to a validated group, which takes 10 + 10; else a method that
    /// others validated is verified, which takes 6 + 6.
    #[serde(default)]
    pub added_commodity: bool,
    /// The controls.
    pub controls: Vec<VerifiedControl>,
}

/// What a verification came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct VerificationReport {
    /// How many blanks.
    pub blanks: u32,
    /// How many controls at the target.
    pub positives: u32,
    /// How many of those are on the suspect side.
    pub suspect_positives: u32,
    /// How many of the blanks are.
    pub suspect_blanks: u32,
    /// Whether every positive is: the rule to pass by.
    pub passed: bool,
    /// What follows.
    pub statement: String,
}

/// Verifies a validated method, or adds a commodity to it.
///
/// # Errors
/// Fewer controls of a kind than the regulation asks for.
pub fn verify(inputs: &VerificationInputs) -> Answer<VerificationReport> {
    let fewest = if inputs.added_commodity { 10 } else { 6 };
    let of = |kind| inputs.controls.iter().filter(move |one| one.kind == kind);
    let (blanks, positives) = (
        of(super::ControlKind::Negative).count(),
        of(super::ControlKind::Positive).count(),
    );
    enough("blanks", blanks, fewest)?;
    enough("controls at the target", positives, fewest)?;
    let suspect =
        |one: &&VerifiedControl| is_suspect(one.response.0, inputs.cut_off.0, inputs.response);
    let suspect_positives = of(super::ControlKind::Positive).filter(suspect).count();
    let suspect_blanks = of(super::ControlKind::Negative).filter(suspect).count();
    let passed = suspect_positives == positives;
    let statement = match (passed, inputs.added_commodity) {
        (true, true) => "The commodity is added to the validated group.",
        (true, false) => "The method is verified.",
        (false, true) => "A positive was not suspect: the commodity needs a full validation.",
        (false, false) => {
            "A positive was not suspect: find the cause and verify again, else validate in full."
        }
    };
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    Ok(VerificationReport {
        blanks: count(blanks),
        positives: count(positives),
        suspect_positives: count(suspect_positives),
        suspect_blanks: count(suspect_blanks),
        passed,
        statement: statement.to_owned(),
    })
}

/// A control of a routine batch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DeterminationOfBatch {
    /// The batch, by the laboratory's own code.
    pub batch: String,
    /// The control.
    pub control: ControlDetermination,
}

/// The yearly review of a screening method.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ReviewInputs {
    /// The validation.
    pub validation: ValidationInputs,
    /// The controls that earlier reviews joined in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joined_before: Vec<DeterminationOfBatch>,
    /// The controls of the batches since then.
    pub routine: Vec<DeterminationOfBatch>,
    /// The day of the last review, or of the validation.
    pub reviewed_on: NaiveDate,
    /// The day of this one.
    pub on: NaiveDate,
}

/// What a review came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ReviewReport {
    /// The validation as it was.
    pub before: ValidationReport,
    /// The same with the routine controls joined in.
    pub after: ValidationReport,
    /// How far the cut-off moved.
    pub cut_off_moved: Number,
    /// Positives of the routine that the cut-off before did not call suspect.
    pub missed_positives: u32,
    /// Batches with fewer than two positives, which each is to have.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub batches_without_positives: Vec<String>,
    /// Last day of the year within which the review was due.
    pub due_on: NaiveDate,
    /// Whether it was in time.
    pub in_time: bool,
    /// Whether the law that the method was validated by still allows its use.
    pub law_still_allows: bool,
}

/// Sets the cut-off again with the controls of routine batches joined in.
///
/// # Errors
/// As [`validate`]; a review before the last one.
///
/// ```
/// use domain::screening_validations::{ReviewInputs, review};
/// let early: ReviewInputs = serde_json::from_str(r#"{"validation":{"response":"falling",
///     "screening_target":"20","determinations":[]},"routine":[],
///     "reviewed_on":"2026-03-01","on":"2026-02-01"}"#)?;
/// assert_eq!(review(&early).unwrap_err().quantity(), "day of the review");
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn review(inputs: &ReviewInputs) -> Answer<ReviewReport> {
    if inputs.on < inputs.reviewed_on {
        let must = format!("not before the last one, {}", inputs.reviewed_on);
        return Err(out_of_range("day of the review", inputs.on, must));
    }
    let own = validate(&inputs.validation)?;
    let mut joined = inputs.validation.clone();
    // The law is that of the validation's own days; later controls do not make it a new one.
    joined.law = super::ValidationLaw::Eu2023;
    let mut join = |controls: &[DeterminationOfBatch]| {
        let controls = controls.iter().map(|one| one.control);
        joined.determinations.extend(controls);
        let mut report = validate(&joined)?;
        report.law.clone_from(&own.law);
        Ok(report)
    };
    let before = join(&inputs.joined_before)?;
    let after = join(&inputs.routine)?;
    let positives: Vec<_> = inputs
        .routine
        .iter()
        .filter(|one| one.control.kind == super::ControlKind::Positive)
        .collect();
    let missed = positives
        .iter()
        .filter(|one| {
            let response = one.control.response;
            !is_suspect(
                response.0,
                before.cut_off.cut_off.0,
                inputs.validation.response,
            )
        })
        .count();
    let due_on = inputs
        .reviewed_on
        .checked_add_months(Months::new(12))
        .ok_or_else(|| out_of_range("day of the last review", inputs.reviewed_on, "a real day"))?;
    Ok(ReviewReport {
        cut_off_moved: figures(minus(
            "cut-off",
            after.cut_off.cut_off.0,
            before.cut_off.cut_off.0,
        )?),
        missed_positives: u32::try_from(missed).unwrap_or(u32::MAX),
        batches_without_positives: without_positives(&inputs.routine),
        due_on,
        in_time: inputs.on <= due_on,
        law_still_allows: inputs.validation.law.may_be_used_on(inputs.on),
        before,
        after,
    })
}

/// The fewest positives of a routine batch.
pub(super) const POSITIVES_A_BATCH: usize = 2;

fn without_positives(routine: &[DeterminationOfBatch]) -> Vec<String> {
    let mut batches: Vec<&str> = routine.iter().map(|one| one.batch.as_str()).collect();
    batches.sort_unstable();
    batches.dedup();
    batches
        .into_iter()
        .filter(|batch| {
            let own = routine.iter().filter(|one| {
                one.batch == *batch && one.control.kind == super::ControlKind::Positive
            });
            own.count() < POSITIVES_A_BATCH
        })
        .map(str::to_owned)
        .collect()
}
