//! The cut-off of a screening method, and the report of its validation.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{ValidationLaw, enough};
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, figures, mean, out_of_range, over, pole, positive, standard_deviation,
};
use crate::rounding::{RoundTo, Rounding, TieRule};
use crate::statistics::screening::{
    CutOffFigures, CutOffInput, ResponseDirection, ResponseSummary, TableOfT, cut_off_figures,
    is_suspect,
};

/// A value to as many significant figures as a target is written with.
fn to_figures_of(target: Number, value: Decimal) -> Answer<Number> {
    positive("screening target", target)?;
    let digits = target.0.mantissa().unsigned_abs().to_string();
    // "20" is taken to two figures, "200" to three: every digit that is written counts.
    let figures = u32::try_from(digits.len()).unwrap_or(28).clamp(1, 28);
    let rule = Rounding {
        to: RoundTo::SignificantFigures(figures),
        tie: TieRule::HalfEven,
    };
    rule.apply(value)
        .map(Number)
        .map_err(|error| pole("rounded cut-off", error.to_string()))
}

/// What a control is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ControlKind {
    /// Known to be free: its content is not above a fifth of the target.
    Negative,
    /// Content at the screening target.
    Positive,
}

/// One determination of a control.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ControlDetermination {
    /// What it is.
    pub kind: ControlKind,
    /// The day it was measured.
    pub on: NaiveDate,
    /// The laboratory, by a number; absent in a validation within one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laboratory: Option<u32>,
    /// Its content where it is known, in the unit of the target.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub content: Option<Number>,
    /// The response.
    pub response: Number,
}

/// Which validation.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ValidationKind {
    /// The first, within one laboratory: 20 + 20 over 5 days.
    #[default]
    WithinLaboratory,
    /// Of several laboratories: 20 + 20 in all, at least 8 laboratories with 2 samples each.
    BetweenLaboratories,
}

/// The controls of a validation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ValidationInputs {
    /// By which law.
    #[serde(default)]
    pub law: ValidationLaw,
    /// Which validation.
    #[serde(default)]
    pub kind: ValidationKind,
    /// How the response changes with the concentration.
    pub response: ResponseDirection,
    /// The screening target, above zero, as it is written.
    pub screening_target: Number,
    /// Which quantile of Student's t the cut-off takes.
    #[serde(default)]
    pub table: TableOfT,
    /// Every determination.
    pub determinations: Vec<ControlDetermination>,
}

/// The report of a validation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ValidationReport {
    /// The law.
    pub law: String,
    /// The screening target.
    pub screening_target: Number,
    /// How many blanks.
    pub blanks: u32,
    /// Mean of their responses.
    pub blank_mean: Number,
    /// Standard deviation of their responses.
    pub blank_standard_deviation: Number,
    /// How many controls at the target.
    pub positives: u32,
    /// Mean of their responses.
    pub target_mean: Number,
    /// Standard deviation of their responses.
    pub target_standard_deviation: Number,
    /// On how many days.
    pub days: u32,
    /// In how many laboratories.
    pub laboratories: u32,
    /// The cut-off and the rate of false suspects, with the figures on the way.
    pub cut_off: CutOffFigures,
    /// The cut-off to the significant figures of the screening target.
    pub rounded_cut_off: Number,
    /// How the rate was obtained.
    pub rate_obtained_by: String,
    /// How many of the positives lie on the good side of the cut-off all the same.
    pub false_negatives: u32,
    /// How many of the blanks lie on its suspect side.
    pub false_suspects: u32,
}

/// Fewest controls of each kind, days, laboratories, and samples of each laboratory.
const FEWEST: usize = 20;
const FEWEST_DAYS: usize = 5;
const FEWEST_LABORATORIES: usize = 8;
const FEWEST_A_LABORATORY: usize = 2;

/// Validates a screening method by its controls.
///
/// # Errors
/// Fewer than 20 of either kind, fewer than 5 days (8 laboratories), a blank that is not known to
/// be free, responses that do not scatter.
///
/// ```
/// use domain::screening_validations::{ValidationInputs, validate};
/// let few: ValidationInputs = serde_json::from_str(r#"{"response":"falling",
///     "screening_target":"20","determinations":[]}"#)?;
/// assert_eq!(validate(&few).unwrap_err().quantity(), "blanks");
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn validate(inputs: &ValidationInputs) -> Answer<ValidationReport> {
    let target = positive("screening target", inputs.screening_target)?;
    let of = |kind: ControlKind| -> Vec<&ControlDetermination> {
        let all = inputs.determinations.iter();
        all.filter(|one| one.kind == kind).collect()
    };
    let (blanks, positives) = (of(ControlKind::Negative), of(ControlKind::Positive));
    enough("blanks", blanks.len(), FEWEST)?;
    enough("controls at the target", positives.len(), FEWEST)?;
    known_to_be_free(&blanks, target)?;
    let (days, laboratories) = spread(inputs)?;
    let summary = |what: &str, controls: &[&ControlDetermination]| {
        let responses: Vec<Decimal> = controls.iter().map(|one| one.response.0).collect();
        let centre = mean(what, &responses)?;
        Ok((centre, standard_deviation(what, &responses)?))
    };
    let (blank_mean, blank_deviation) = summary("blanks", &blanks)?;
    let (target_mean, target_deviation) = summary("controls at the target", &positives)?;
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    let summarised = |n: usize, mean: Decimal, deviation: Decimal| ResponseSummary {
        n,
        mean: figures(mean),
        standard_deviation: figures(deviation),
    };
    let report = cut_off_figures(&CutOffInput {
        response: inputs.response,
        at_target: summarised(positives.len(), target_mean, target_deviation),
        blank: summarised(blanks.len(), blank_mean, blank_deviation),
        table: inputs.table,
    })?;
    let suspect = |one: &&&ControlDetermination| {
        is_suspect(one.response.0, report.cut_off.0, inputs.response)
    };
    Ok(ValidationReport {
        law: inputs.law.name().to_owned(),
        screening_target: inputs.screening_target,
        blanks: count(blanks.len()),
        blank_mean: figures(blank_mean),
        blank_standard_deviation: figures(blank_deviation),
        positives: count(positives.len()),
        target_mean: figures(target_mean),
        target_standard_deviation: figures(target_deviation),
        days: count(days),
        laboratories: count(laboratories),
        false_negatives: count(positives.len() - positives.iter().filter(suspect).count()),
        false_suspects: count(blanks.iter().filter(suspect).count()),
        rounded_cut_off: to_figures_of(inputs.screening_target, report.cut_off.0)?,
        rate_obtained_by: format!(
            "one-sided tail of Student's t with {} degrees of freedom, from the blanks",
            blanks.len().saturating_sub(1)
        ),
        cut_off: report,
    })
}

/// A blank's content is not above a fifth of the target.
fn known_to_be_free(blanks: &[&ControlDetermination], target: Decimal) -> Answer<()> {
    let most = over("content of a blank", target, Decimal::from(5))?;
    for blank in blanks {
        if let Some(content) = blank.content
            && content.0 > most
        {
            let must = format!("at most {}, a fifth of the target", most.normalize());
            return Err(out_of_range("content of a blank", content, must));
        }
    }
    Ok(())
}

/// Over how many days and laboratories the determinations are spread, refusing too few.
fn spread(inputs: &ValidationInputs) -> Answer<(usize, usize)> {
    let days: BTreeSet<NaiveDate> = inputs.determinations.iter().map(|one| one.on).collect();
    if let (Some(first), Some(last)) = (days.first(), days.last()) {
        inputs.law.admit(*first, *last)?;
    }
    let laboratories: BTreeSet<Option<u32>> = inputs
        .determinations
        .iter()
        .map(|one| one.laboratory)
        .collect();
    match inputs.kind {
        ValidationKind::WithinLaboratory => {
            enough(
                "days of the blanks",
                days_of(inputs, ControlKind::Negative),
                FEWEST_DAYS,
            )?;
            let positives = days_of(inputs, ControlKind::Positive);
            enough("days of the controls at the target", positives, FEWEST_DAYS)?;
        }
        ValidationKind::BetweenLaboratories => {
            if laboratories.contains(&None) {
                return Err(out_of_range(
                    "laboratory",
                    "none",
                    "given for every determination",
                ));
            }
            enough("laboratories", laboratories.len(), FEWEST_LABORATORIES)?;
            for laboratory in &laboratories {
                let of_it = inputs
                    .determinations
                    .iter()
                    .filter(|one| one.laboratory == *laboratory);
                enough(
                    "samples of a laboratory",
                    of_it.count(),
                    FEWEST_A_LABORATORY,
                )?;
            }
        }
    }
    Ok((days.len(), laboratories.len()))
}

fn days_of(inputs: &ValidationInputs, kind: ControlKind) -> usize {
    let own = inputs.determinations.iter().filter(|one| one.kind == kind);
    own.map(|one| one.on).collect::<BTreeSet<_>>().len()
}
