//! The budget of a strip test's result, line by line.
//!
//! Promises precision as a constant and a proportional part (QUAM:2012.P1, appendix E), of which
//! only repeatability shrinks with replicates; bias from control material; dilution, liquid and
//! mass by their tolerances; recovery where it is corrected for; and, apart from the analysis,
//! the lot's sampling and preparation. Refuses a result below zero and numbers below zero in it.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::bias::{BiasEvidence, ComputedBias, bias_lines};
use super::budget::{ComputedBudget, Part, combine};
use super::coverage::Coverage;
use super::dilution::{DeliveredVolume, UncertainStep, volume_lines};
use super::product::NamedDoubt;
use super::recovery::CorrectionRule;
use crate::decisions::Uncertainty;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, minus, not_negative, over, plus, positive, square_root,
    times,
};
use crate::quantity::{Concentration, Number, computed};

/// Most further lines.
pub const MOST_FURTHER: usize = 50;

/// A standard deviation as a constant and a proportional part: s² = s₀² + (x · s₁)²
/// (QUAM:2012.P1, appendix E.4).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PrecisionParts {
    /// s₀ in µg/kg for an extract that is not diluted further, zero or more.
    pub constant_ug_per_kg: Number,
    /// s₁, a fraction of the value, zero or more.
    pub proportional: Number,
}

/// The test portion as it was weighed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct WeighedMass {
    /// In g, above zero.
    pub mass_g: Number,
    /// Its doubts, such as the balance's limit.
    pub doubts: Vec<NamedDoubt>,
}

/// The recovery of the procedure, and when it is corrected for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct KnownRecovery {
    /// Mean recovery, a fraction above zero.
    pub recovery: Number,
    /// Its standard uncertainty, a fraction, zero or more.
    pub standard_uncertainty: Number,
    /// When it is corrected for; outside 0.9 to 1.1 where nothing is said.
    #[serde(default)]
    pub rule: CorrectionRule,
}

/// The variances of what was done before the analysis, where the lot is asked for, (µg/kg)².
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LotVariances {
    /// Of taking the laboratory sample, zero or more.
    pub sampling: Number,
    /// Of preparing the test portion, zero or more.
    pub preparation: Number,
}

/// What the budget of a result is made of.
///
/// ```
/// use domain::uncertainty::of_result::{ResultBudgetInputs, result_budget};
/// let inputs: ResultBudgetInputs = serde_json::from_str(r#"{"found_ug_per_kg":"20",
///     "precision":{"constant_ug_per_kg":"0.6","proportional":"0.04"}}"#)?;
/// let found = result_budget(&inputs).unwrap();
/// // 0.6² + (0.04 · 20)² = 1²
/// assert_eq!(found.analysis.combined.to_string(), "1");
/// assert_eq!(found.uncertainty.expanded.to_string(), "2.000000");
/// let nothing: ResultBudgetInputs = serde_json::from_str(r#"{"found_ug_per_kg":"20"}"#)?;
/// assert_eq!(result_budget(&nothing).unwrap_err().quantity(), "lines of the budget");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ResultBudgetInputs {
    /// The result after dilution, before a correction for recovery; µg/kg, zero or more.
    pub found_ug_per_kg: Number,
    /// The dilution factor, which the constant part of the precision grows with; 1 where none.
    #[serde(default = "one")]
    pub dilution_factor: Number,
    /// How many runs were averaged; 1 where nothing is said.
    #[serde(default = "once")]
    pub determinations: u32,
    /// Precision within the laboratory.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub precision: Option<PrecisionParts>,
    /// The part of it that is repeatability, which alone shrinks with the runs averaged; absent:
    /// nothing shrinks. Where no precision is known it stands for it, its parts added (ISO
    /// 5725-2:2019, relation II).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeatability: Option<PrecisionParts>,
    /// What control material showed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bias: Option<BiasEvidence>,
    /// The dilution beyond the curve's own scheme.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dilution: Vec<UncertainStep>,
    /// The test portion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_portion: Option<WeighedMass>,
    /// The liquid that it was extracted with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub liquid: Option<DeliveredVolume>,
    /// Recovery.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recovery: Option<KnownRecovery>,
    /// Further lines, about the value in µg/kg.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub further: Vec<NamedDoubt>,
    /// Variances before the analysis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<LotVariances>,
    /// How the combined uncertainty is expanded; k = 2 where nothing is said.
    #[serde(default)]
    pub coverage: Coverage,
}

const fn one() -> Number {
    Number(Decimal::ONE)
}

const fn once() -> u32 {
    1
}

/// The budget of a result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ResultBudget {
    /// The result, µg/kg, corrected for recovery where that was asked for.
    pub value_ug_per_kg: Number,
    /// Whether it was corrected.
    pub corrected_for_recovery: bool,
    /// What control material said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bias: Option<ComputedBias>,
    /// The analysis alone, as a decision under EU law asks for.
    pub analysis: ComputedBudget,
    /// The analysis with sampling and preparation, where their variances are given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<ComputedBudget>,
    /// U of the analysis as a result keeps it, with six places.
    pub uncertainty: Uncertainty,
}

/// Computes the budget of a result.
///
/// # Errors
/// Nothing that a line could be made of, a number below zero, too many further lines.
pub fn result_budget(inputs: &ResultBudgetInputs) -> Answer<ResultBudget> {
    let found = not_negative("result", inputs.found_ug_per_kg)?;
    at_most("further lines", inputs.further.len(), MOST_FURTHER)?;
    let (value, corrected, recovery) = corrected(found, inputs.recovery.as_ref())?;
    let mut lines = precision_lines(inputs, value, found)?;
    let bias = match &inputs.bias {
        Some(evidence) => Some(bias_lines(evidence, value, &mut lines)?),
        None => None,
    };
    lines.extend(volume_lines(&inputs.dilution, value)?);
    if let Some(portion) = &inputs.test_portion {
        let mass = positive("test portion", portion.mass_g)?;
        parts_of(mass, "test portion", &portion.doubts, value, &mut lines)?;
    }
    if let Some(liquid) = &inputs.liquid {
        let volume = positive("extraction liquid", liquid.volume)?;
        parts_of(
            volume,
            "extraction liquid",
            &liquid.doubts,
            value,
            &mut lines,
        )?;
    }
    lines.extend(recovery);
    for doubt in &inputs.further {
        let mut part = line(
            &doubt.source,
            doubt.words(),
            doubt.doubt.standard(&doubt.source, value)?,
            Decimal::ONE,
        );
        part.freedom = doubt.degrees_of_freedom;
        lines.push(part);
    }
    at_least("lines of the budget", lines.len(), 1)?;
    let analysis = combine(&lines, &[], inputs.coverage, None)?;
    let lot = match &inputs.lot {
        Some(variances) => Some(with_lot(lines, variances, inputs.coverage)?),
        None => None,
    };
    let kept = computed(analysis.coverage.expanded.0);
    Ok(ResultBudget {
        value_ug_per_kg: figures(value),
        corrected_for_recovery: corrected,
        bias,
        uncertainty: Uncertainty {
            expanded: Concentration::from_ug_per_kg(kept),
            coverage_factor: analysis.coverage.coverage_factor,
        },
        analysis,
        lot,
    })
}

pub(super) fn line(source: &str, stated: String, standard: Decimal, sensitivity: Decimal) -> Part {
    Part {
        source: source.to_owned(),
        stated,
        standard,
        sensitivity,
        freedom: None,
    }
}

/// The value after a correction, whether there was one, and its line: the relative uncertainty of
/// the recovery.
fn corrected(
    found: Decimal,
    recovery: Option<&KnownRecovery>,
) -> Answer<(Decimal, bool, Option<Part>)> {
    let Some(known) = recovery else {
        return Ok((found, false, None));
    };
    if !known.rule.corrects(known.recovery)? {
        return Ok((found, false, None));
    }
    let standard = not_negative(
        "standard uncertainty of the recovery",
        known.standard_uncertainty,
    )?;
    let value = over("corrected result", found, known.recovery.0)?;
    let share = over("recovery", standard, known.recovery.0)?;
    let stated = format!(
        "recovery {} with standard uncertainty {}",
        known.recovery, known.standard_uncertainty
    );
    Ok((value, true, Some(line("recovery", stated, share, value))))
}

/// The two parts of the precision, each with its repeatability shrunk: s² - s_r² · (1 - 1/n).
fn precision_lines(
    inputs: &ResultBudgetInputs,
    value: Decimal,
    found: Decimal,
) -> Answer<Vec<Part>> {
    let name = "precision";
    let count = usize::try_from(inputs.determinations).unwrap_or(usize::MAX);
    at_least("determinations", count, 1)?;
    let factor = positive("dilution factor", inputs.dilution_factor)?;
    // A correction for recovery scales what was found, and its scatter with it.
    let scale = if found.is_zero() {
        factor
    } else {
        times(name, factor, over(name, value, found)?)?
    };
    let runs = inputs.determinations;
    let repeatability = inputs.repeatability;
    let precision = match (inputs.precision, repeatability) {
        (Some(precision), _) => precision,
        (None, Some(repeatability)) => {
            return Ok(vec![repeatability_line(repeatability, runs, value, scale)?]);
        }
        (None, None) => return Ok(Vec::new()),
    };
    let shrink = |whole: Number, part: Option<Number>| {
        let whole = not_negative(name, whole)?;
        let part = not_negative("repeatability", part.unwrap_or(Number(Decimal::ZERO)))?;
        shrunk(whole, part, inputs.determinations)
    };
    let constant = shrink(
        precision.constant_ug_per_kg,
        repeatability.map(|parts| parts.constant_ug_per_kg),
    )?;
    let proportional = shrink(
        precision.proportional,
        repeatability.map(|parts| parts.proportional),
    )?;
    Ok(vec![
        line(
            "precision, constant part",
            format!("{} µg/kg, mean of {runs}", precision.constant_ug_per_kg),
            constant,
            scale,
        ),
        line(
            "precision, proportional part",
            format!("{} of the value, mean of {runs}", precision.proportional),
            proportional,
            value,
        ),
    ])
}

/// Where repeatability is all that is known: its two parts are a straight line (ISO 5725-2:2019,
/// relation II), so they are added, not their squares.
fn repeatability_line(
    parts: PrecisionParts,
    runs: u32,
    value: Decimal,
    scale: Decimal,
) -> Answer<Part> {
    let name = "repeatability";
    let constant = times(name, not_negative(name, parts.constant_ug_per_kg)?, scale)?;
    let proportional = times(name, not_negative(name, parts.proportional)?, value)?;
    let single = plus(name, constant, proportional)?;
    let standard = over(name, single, square_root(name, Decimal::from(runs))?)?;
    let stated = format!(
        "{} µg/kg and {} of the value, mean of {runs}",
        parts.constant_ug_per_kg, parts.proportional
    );
    Ok(line(name, stated, standard, Decimal::ONE))
}

/// √(s² - s_r² (1 - 1/n)), never below s_r/√n.
fn shrunk(whole: Decimal, repeatability: Decimal, runs: u32) -> Answer<Decimal> {
    let name = "precision";
    let runs = Decimal::from(runs);
    let square = |value| times(name, value, value);
    let within = square(repeatability)?;
    let shared = over(name, within, runs)?;
    let variance = plus(name, minus(name, square(whole)?, within)?, shared)?;
    square_root(name, variance.max(shared))
}

/// A line for each doubt of a mass or volume that the result is proportional to.
fn parts_of(
    size: Decimal,
    what: &str,
    doubts: &[NamedDoubt],
    value: Decimal,
    lines: &mut Vec<Part>,
) -> Answer<()> {
    at_most(what, doubts.len(), MOST_FURTHER)?;
    for doubt in doubts {
        let standard = doubt.doubt.standard(&doubt.source, size)?;
        let mut part = line(
            &format!("{what}: {}", doubt.source),
            doubt.words(),
            over(what, standard, size)?,
            value,
        );
        part.freedom = doubt.degrees_of_freedom;
        lines.push(part);
    }
    Ok(())
}

fn with_lot(
    mut lines: Vec<Part>,
    variances: &LotVariances,
    coverage: Coverage,
) -> Answer<ComputedBudget> {
    for (name, variance) in [
        ("sampling", variances.sampling),
        ("sample preparation", variances.preparation),
    ] {
        let standard = square_root(name, not_negative(name, variance)?)?;
        let stated = format!("variance {variance}");
        lines.push(line(name, stated, standard, Decimal::ONE));
    }
    combine(&lines, &[], coverage, None)
}
