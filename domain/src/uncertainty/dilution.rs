//! How sure a dilution factor is.
//!
//! Promises sensitivities of the volumes, each of which stands in its factor once: the sample
//! volume is above and below the line, so relative uncertainties must not simply be added
//! (JCGM 100:2008, 5.1.2). Refuses volumes that are not above zero and steps with no dilution.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::budget::{ComputedBudget, MOST_LINES, Part, combine};
use super::coverage::Coverage;
use super::product::NamedDoubt;
use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, at_most, figures, out_of_range, over, plus, positive, root_of_squares, times,
};

/// Most steps of one dilution.
pub const MOST_STEPS: usize = 20;

/// A volume as it was delivered, in any unit that all volumes of the dilution have.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DeliveredVolume {
    /// How much, above zero.
    pub volume: Number,
    /// Its doubts: tolerance, repeatability, temperature; none: it is exact.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<NamedDoubt>,
}

/// What a sample volume was diluted with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum DilutedBy {
    /// A volume added to it: factor (sample + diluent) / sample.
    Diluent(DeliveredVolume),
    /// Made up to a volume, as in a flask: factor whole / sample.
    MadeUpTo(DeliveredVolume),
}

/// One step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct UncertainStep {
    /// The volume taken of the extract or of the step before.
    pub sample: DeliveredVolume,
    /// What it was diluted with.
    pub with: DilutedBy,
}

/// A dilution whose uncertainty is asked for.
///
/// ```
/// use domain::uncertainty::dilution::{DilutionInputs, dilution};
/// // 100 µL + 500 µL, limits of ISO 8655-2:2002 (from memory).
/// let inputs: DilutionInputs = serde_json::from_str(r#"{"steps":[{
///     "sample":{"volume":"100","doubts":[
///         {"source":"systematic","doubt":{"kind":"half-width","half_width":"0.8"}},
///         {"source":"random","doubt":{"kind":"deviation","standard_deviation":"0.3"}}]},
///     "with":{"kind":"diluent","volume":"500","doubts":[
///         {"source":"systematic","doubt":{"kind":"half-width","half_width":"8"}},
///         {"source":"random","doubt":{"kind":"deviation","standard_deviation":"3"}}]}}]}"#)?;
/// let found = dilution(&inputs).unwrap();
/// assert_eq!(found.factor.to_string(), "6");
/// assert_eq!(found.standard_uncertainty.0.round_dp(4).to_string(), "0.0616");
/// let mut empty = inputs;
/// empty.steps.clear();
/// assert_eq!(dilution(&empty).unwrap_err().quantity(), "steps of the dilution");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DilutionInputs {
    /// One step or more, one after the other.
    pub steps: Vec<UncertainStep>,
    /// How the combined uncertainty is expanded; k = 2 where nothing is said.
    #[serde(default)]
    pub coverage: Coverage,
}

/// One step as it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedStep {
    /// Standard uncertainty of the sample volume.
    pub sample_standard_uncertainty: Number,
    /// Standard uncertainty of the diluent, or of the whole.
    pub other_standard_uncertainty: Number,
    /// The factor of the step.
    pub factor: Number,
    /// ∂F/∂V of the sample volume.
    pub sample_sensitivity: Number,
    /// ∂F/∂V of the diluent, or of the whole.
    pub other_sensitivity: Number,
    /// u of the factor.
    pub standard_uncertainty: Number,
    /// u in percent of the factor.
    pub relative_percent: Number,
}

/// A dilution as it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ComputedDilution {
    /// The steps.
    pub steps: Vec<ComputedStep>,
    /// The factor of all steps.
    pub factor: Number,
    /// Its standard uncertainty.
    pub standard_uncertainty: Number,
    /// The same in percent of the factor.
    pub relative_percent: Number,
    /// Every doubt as a line, in units of the whole factor.
    pub budget: ComputedBudget,
}

/// A volume with its standard uncertainty, unrounded.
#[derive(Debug, Clone, Copy)]
struct Known {
    volume: Decimal,
    standard: Decimal,
}

fn known(quantity: &str, given: &DeliveredVolume) -> Answer<Known> {
    let volume = positive(quantity, given.volume)?;
    let mut own = Vec::with_capacity(given.doubts.len());
    for doubt in &given.doubts {
        own.push(doubt.doubt.standard(&doubt.source, volume)?);
    }
    Ok(Known {
        volume,
        standard: root_of_squares(quantity, &own)?,
    })
}

/// A step, unrounded.
struct StepFigures {
    sample: Known,
    other: Known,
    factor: Decimal,
    by_sample: Decimal,
    by_other: Decimal,
}

fn step(step: &UncertainStep) -> Answer<StepFigures> {
    let name = "dilution factor";
    let sample = known("sample volume", &step.sample)?;
    let (other, factor, by_sample) = match &step.with {
        DilutedBy::Diluent(given) => {
            let diluent = known("diluent volume", given)?;
            let whole = plus(name, sample.volume, diluent.volume)?;
            let ratio = over(name, diluent.volume, sample.volume)?;
            let factor = over(name, whole, sample.volume)?;
            (diluent, factor, over(name, -ratio, sample.volume)?)
        }
        DilutedBy::MadeUpTo(given) => {
            let whole = known("volume made up to", given)?;
            if whole.volume < sample.volume {
                let must = format!("at least the sample volume, {}", sample.volume);
                return Err(out_of_range("volume made up to", whole.volume, must));
            }
            let factor = over(name, whole.volume, sample.volume)?;
            (whole, factor, over(name, -factor, sample.volume)?)
        }
    };
    Ok(StepFigures {
        sample,
        other,
        factor,
        by_sample,
        by_other: over(name, Decimal::ONE, sample.volume)?,
    })
}

fn shown(figures_of: &StepFigures) -> Answer<(ComputedStep, Decimal)> {
    let name = "uncertainty of the dilution factor";
    let standard = root_of_squares(
        name,
        &[
            times(name, figures_of.by_sample, figures_of.sample.standard)?,
            times(name, figures_of.by_other, figures_of.other.standard)?,
        ],
    )?;
    let computed = ComputedStep {
        sample_standard_uncertainty: figures(figures_of.sample.standard),
        other_standard_uncertainty: figures(figures_of.other.standard),
        factor: figures(figures_of.factor),
        sample_sensitivity: figures(figures_of.by_sample),
        other_sensitivity: figures(figures_of.by_other),
        standard_uncertainty: figures(standard),
        relative_percent: figures(percent(standard, figures_of.factor)?),
    };
    Ok((computed, standard))
}

fn percent(part: Decimal, whole: Decimal) -> Answer<Decimal> {
    let name = "relative uncertainty of the dilution factor";
    times(name, over(name, part, whole)?, Decimal::ONE_HUNDRED)
}

/// Computes a dilution factor and its uncertainty.
///
/// # Errors
/// No step or too many, a volume that is not above zero, a doubt below zero.
pub fn dilution(inputs: &DilutionInputs) -> Answer<ComputedDilution> {
    at_least("steps of the dilution", inputs.steps.len(), 1)?;
    at_most("steps of the dilution", inputs.steps.len(), MOST_STEPS)?;
    let steps = inputs.steps.iter().map(step).collect::<Answer<Vec<_>>>()?;
    let name = "dilution factor";
    let factor = steps.iter().try_fold(Decimal::ONE, |product, one| {
        times(name, product, one.factor)
    })?;
    let parts = lines(&inputs.steps, &steps, factor)?;
    let budget = combine(&parts, &[], inputs.coverage, None)?;
    let all = parts
        .iter()
        .map(Part::contribution)
        .collect::<Answer<Vec<_>>>()?;
    let standard = root_of_squares("uncertainty of the dilution factor", &all)?;
    let mut computed = Vec::with_capacity(steps.len());
    for one in &steps {
        computed.push(shown(one)?.0);
    }
    Ok(ComputedDilution {
        steps: computed,
        factor: figures(factor),
        standard_uncertainty: figures(standard),
        relative_percent: figures(percent(standard, factor)?),
        budget,
    })
}

/// Every doubt of every volume, with its sensitivity in the whole factor.
fn lines(given: &[UncertainStep], steps: &[StepFigures], factor: Decimal) -> Answer<Vec<Part>> {
    let name = "sensitivity of a volume";
    let mut parts = Vec::new();
    for (place, (given, figures_of)) in given.iter().zip(steps).enumerate() {
        let rest = over(name, factor, figures_of.factor)?;
        let (other, word) = match &given.with {
            DilutedBy::Diluent(other) => (other, "diluent"),
            DilutedBy::MadeUpTo(other) => (other, "volume made up to"),
        };
        let volumes = [
            (&given.sample, "sample", figures_of.by_sample),
            (other, word, figures_of.by_other),
        ];
        for (volume, word, sensitivity) in volumes {
            for doubt in &volume.doubts {
                let number = place.saturating_add(1);
                parts.push(Part {
                    source: format!("step {number}, {word}: {}", doubt.source),
                    stated: doubt.words(),
                    standard: doubt.doubt.standard(&doubt.source, volume.volume.0)?,
                    sensitivity: times(name, sensitivity, rest)?,
                    freedom: doubt.degrees_of_freedom,
                });
            }
        }
    }
    at_most("doubts of the volumes", parts.len(), MOST_LINES)?;
    Ok(parts)
}

/// A line for each volume with a doubt: what it adds to a value that the factor multiplies. The
/// standard uncertainty is a fraction of the factor, unrounded.
pub(super) fn volume_lines(inputs: &[UncertainStep], value: Decimal) -> Answer<Vec<Part>> {
    let name = "dilution factor";
    at_most("steps of the dilution", inputs.len(), MOST_STEPS)?;
    let mut parts = Vec::with_capacity(inputs.len().saturating_mul(2));
    for (place, given) in inputs.iter().enumerate() {
        let figures_of = step(given)?;
        let (other, word) = match &given.with {
            DilutedBy::Diluent(other) => (other, "diluent"),
            DilutedBy::MadeUpTo(other) => (other, "volume made up to"),
        };
        let volumes = [
            (
                &given.sample,
                "sample volume",
                figures_of.sample,
                figures_of.by_sample,
            ),
            (other, word, figures_of.other, figures_of.by_other),
        ];
        for (volume, word, known, sensitivity) in volumes {
            if volume.doubts.is_empty() {
                continue;
            }
            let share = over(name, sensitivity.abs(), figures_of.factor)?;
            parts.push(Part {
                source: if inputs.len() == 1 {
                    format!("dilution, {word}")
                } else {
                    format!("dilution step {}, {word}", place.saturating_add(1))
                },
                stated: stated(volume),
                standard: times(name, share, known.standard)?,
                sensitivity: value,
                freedom: None,
            });
        }
    }
    Ok(parts)
}

/// A volume and each of its doubts, in words.
fn stated(volume: &DeliveredVolume) -> String {
    let mut text = volume.volume.to_string();
    for doubt in &volume.doubts {
        text.push_str(&format!("; {}: {}", doubt.source, doubt.words()));
    }
    text
}
