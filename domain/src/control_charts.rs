//! Control charts of what control runs gave: single values and moving ranges, weighted averages,
//! cumulative sums, the rules over them, and the mean found with its bias.
//!
//! Promises the values that the rules judge, in the order of the times read, and each figure from
//! the computation that the calculator has for it. What cannot be computed of them is named with
//! the reason. Refuses settings that no chart can be drawn with.
//!
//! Two pairs of limits stand beside each other. Those *assigned* are the assigned value and two and
//! three standard deviations of single control runs on either side, the ones that the rules go by.
//! Those *found* come from the values themselves, by their moving ranges (ISO 7870-2:2013).

mod doubt;
mod found;
#[cfg(test)]
mod tests;

pub use doubt::{ControlPassed, DoubtfulStretch, FailedControl, JudgedControl, stretches};
pub use found::{ControlFound, control_found};

use std::collections::BTreeSet;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::control_materials::AssignedValue;
use crate::faults::Faults;
use crate::id::{ControlMaterialId, KitLotId, ReaderId, RunId};
use crate::quality_control::{ControlValue, deviation_of, judge_by_rules};
use crate::quantity::Number;
use crate::statistics::StatisticsError;
use crate::statistics::control::{
    ChartFactors, ControlRule, CusumChart, CusumInput, CusumUnit, EwmaChart, EwmaInput, EwmaLimits,
    IndividualsChart, IndividualsInput, MultiruleInput, RuleDate, cusum_chart, ewma_chart,
    individuals_chart, multirule,
};
use crate::time::Moment;

/// Most control runs of one chart: the newest of its period.
pub const MOST_CHARTED: usize = 500;

/// How charts are set up.
///
/// ```
/// use domain::control_charts::ChartSettings;
/// let usual = ChartSettings::default();
/// assert_eq!((usual.lambda.to_string().as_str(), usual.cusum_h.to_string().as_str()), ("0.2", "5"));
/// assert!(usual.check().is_ok());
/// assert!(ChartSettings { lambda: "1.2".parse()?, ..usual }.check().is_err());
/// # Ok::<(), domain::quantity::QuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ChartSettings {
    /// Weight of a new value in the weighted average, above 0 and at most 1.
    pub lambda: Number,
    /// How many standard deviations of the average its limits are away.
    pub ewma_width: Number,
    /// What is taken off each deviation of the cumulative sums, in standard deviations.
    pub cusum_k: Number,
    /// Above it a cumulative sum signals, in standard deviations.
    pub cusum_h: Number,
}

impl Default for ChartSettings {
    /// A weight of 0.2 with limits at three standard deviations, and sums that look for a shift of
    /// one (k = 0.5, h = 5): *common practice, no source*; NIST/SEMATECH e-Handbook, 6.3.2.3 and
    /// 6.3.2.4, discuss weights of 0.2 to 0.3 and this k.
    fn default() -> Self {
        Self {
            lambda: Number(Decimal::new(2, 1)),
            ewma_width: Number(Decimal::from(3)),
            cusum_k: Number(Decimal::new(5, 1)),
            cusum_h: Number(Decimal::from(5)),
        }
    }
}

impl ChartSettings {
    /// Gathers what no chart can be drawn with.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let zero = Decimal::ZERO;
        let weight = self.lambda.0 > zero && self.lambda.0 <= Decimal::ONE;
        faults.require(weight, "/lambda", || {
            format!("{} is no weight: it is above 0 and at most 1", self.lambda)
        });
        for (value, pointer) in [(self.ewma_width, "/ewma_width"), (self.cusum_h, "/cusum_h")] {
            faults.require(value.0 > zero, pointer, || {
                format!("{value} is no width: it is above 0")
            });
        }
        faults.require(self.cusum_k.0 >= zero, "/cusum_k", || {
            format!("{} is below 0", self.cusum_k)
        });
        faults.into_result()
    }
}

/// Where the standard deviation of single control runs is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DeviationFrom {
    /// The material states it.
    Stated,
    /// A quarter of the material's window.
    Window,
}

/// Lines that the control runs are compared with, µg/kg.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct AssignedLines {
    /// The material's assigned value.
    pub assigned_value: Number,
    /// The standard deviation of single control runs.
    pub standard_deviation: Number,
    /// Where that is taken from.
    pub deviation_from: DeviationFrom,
    /// Three standard deviations below.
    pub lower_three: Number,
    /// Two standard deviations below.
    pub lower_two: Number,
    /// Two standard deviations above.
    pub upper_two: Number,
    /// Three standard deviations above.
    pub upper_three: Number,
}

/// A rule that a control run completes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct CompletedRule {
    /// The rule.
    pub rule: ControlRule,
    /// The control runs that make it up, in the order of the times read.
    pub runs: Vec<RunId>,
}

/// One control run on a chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ChartedControl {
    /// Its number on the charts, from 1.
    pub number: usize,
    /// The run.
    pub run: RunId,
    /// When it was read.
    pub read_at: Moment,
    /// Its kit lot.
    pub kit_lot: KitLotId,
    /// Its reader.
    pub reader: ReaderId,
    /// What it gave, µg/kg.
    pub value: Number,
    /// How many standard deviations it is from the assigned value.
    pub z: Number,
    /// Whether that is more than two: rule 1-2s, which only warns.
    pub warning: bool,
    /// The rules that it completes over the control runs of its own kit lot and reader; each of
    /// them holds results.
    pub rules: Vec<CompletedRule>,
}

/// A figure that is not there, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct NotComputed {
    /// Which one.
    pub what: String,
    /// Why.
    pub why: String,
}

/// The charts of control runs of one material, procedure and analyte.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ControlChart {
    /// The control runs, in the order of the times read.
    pub points: Vec<ChartedControl>,
    /// What they are compared with; absent where the material has no scatter to judge by.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lines: Option<AssignedLines>,
    /// Single values and moving ranges, with limits from the values.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub individuals: Option<IndividualsChart>,
    /// Weighted averages about the assigned value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ewma: Option<EwmaChart>,
    /// Cumulative sums about the assigned value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cusum: Option<CusumChart>,
    /// The mean found and its bias.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<ControlFound>,
    /// What could not be computed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_computed: Vec<NotComputed>,
}

/// What charts are made from.
#[derive(Debug, Clone)]
pub struct ChartInput<'a> {
    /// The material.
    pub material: ControlMaterialId,
    /// What is assigned to it for the analyte.
    pub assigned: &'a AssignedValue,
    /// The control runs of the chart, and those before them that the rules look at, in any order.
    pub values: &'a [ControlValue],
    /// Which of them are on the chart.
    pub charted: &'a BTreeSet<RunId>,
    /// How it is set up.
    pub settings: ChartSettings,
}

impl ChartInput<'_> {
    fn analyte(&self) -> Analyte {
        self.assigned.analyte
    }
}

/// The lines of a material's assigned value; none where it has no scatter to judge by, or figures
/// that cannot be kept.
///
/// ```
/// use domain::control_charts::assigned_lines;
/// use domain::control_materials::AssignedValue;
/// let assigned = |lower: &str| serde_json::from_str::<AssignedValue>(&format!(
///     r#"{{"analyte":"zearalenone","assigned_value":"50","lower":"{lower}","upper":"60"}}"#));
/// let lines = assigned_lines(&assigned("40")?).unwrap();
/// assert_eq!((lines.lower_three.to_string(), lines.upper_two.to_string()), ("35".into(), "60".into()));
/// assert!(assigned_lines(&assigned("50")?).is_none());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn assigned_lines(assigned: &AssignedValue) -> Option<AssignedLines> {
    let s = deviation_of(assigned)?;
    let centre = assigned.assigned_value.ug_per_kg();
    let away = |times: i64| {
        let step = s.checked_mul(Decimal::from(times))?;
        centre.checked_add(step).map(Number)
    };
    Some(AssignedLines {
        assigned_value: Number(centre),
        standard_deviation: Number(s),
        deviation_from: if assigned.standard_deviation.is_some() {
            DeviationFrom::Stated
        } else {
            DeviationFrom::Window
        },
        lower_three: away(-3)?,
        lower_two: away(-2)?,
        upper_two: away(2)?,
        upper_three: away(3)?,
    })
}

/// The charts.
///
/// ```
/// use domain::control_charts::{ChartInput, ChartSettings, control_chart};
/// use domain::control_materials::AssignedValue;
/// let assigned: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"zearalenone","assigned_value":"50","lower":"40","upper":"60"}"#)?;
/// let chart = control_chart(&ChartInput {
///     material: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse()?,
///     assigned: &assigned,
///     values: &[],
///     charted: &Default::default(),
///     settings: ChartSettings::default(),
/// });
/// assert!(chart.points.is_empty() && chart.found.is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn control_chart(input: &ChartInput<'_>) -> ControlChart {
    let mut charted: Vec<&ControlValue> = input
        .values
        .iter()
        .filter(|one| one.group.analyte == input.analyte() && input.charted.contains(&one.run))
        .collect();
    charted.sort_by_key(|one| (one.read_at, one.run));
    let lines = assigned_lines(input.assigned);
    let values: Vec<Number> = charted.iter().map(|one| Number(one.value)).collect();
    let mut missing = Vec::new();
    let (mut ewma, mut cusum, mut individuals, mut found) = (None, None, None, None);
    if let Some(lines) = lines.as_ref().filter(|_| !values.is_empty()) {
        let (target, s) = (lines.assigned_value, lines.standard_deviation);
        let averages = ewma_chart(&EwmaInput {
            values: values.clone(),
            target,
            lambda: input.settings.lambda,
            s,
            k: Some(input.settings.ewma_width),
            limits: EwmaLimits::Exact,
        });
        ewma = kept("weighted averages", averages, &mut missing);
        let sums = cusum_chart(&CusumInput {
            values: values.clone(),
            target,
            k: input.settings.cusum_k,
            h: input.settings.cusum_h,
            unit: CusumUnit::OfStandardDeviations,
            s: Some(s),
            head_start: None,
        });
        cusum = kept("cumulative sums", sums, &mut missing);
        let ranges = individuals_chart(&IndividualsInput {
            values: values.clone(),
            baseline: None,
            span: None,
            factors: ChartFactors::Table,
        });
        individuals = kept("limits from the values", ranges, &mut missing);
        let mean = control_found(input.material, input.assigned, &values);
        found = kept("mean found", mean, &mut missing);
    }
    ControlChart {
        points: points(input, &charted, &values, lines.as_ref(), &mut missing),
        lines,
        individuals,
        ewma,
        cusum,
        found,
        not_computed: missing,
    }
}

/// What was computed; what was not is noted with its reason.
fn kept<T>(
    what: &str,
    computed: Result<T, StatisticsError>,
    missing: &mut Vec<NotComputed>,
) -> Option<T> {
    match computed {
        Ok(figures) => Some(figures),
        Err(fault) => {
            missing.push(NotComputed {
                what: what.to_owned(),
                why: fault.to_string(),
            });
            None
        }
    }
}

fn points(
    input: &ChartInput<'_>,
    charted: &[&ControlValue],
    values: &[Number],
    lines: Option<&AssignedLines>,
    missing: &mut Vec<NotComputed>,
) -> Vec<ChartedControl> {
    let Some(lines) = lines.filter(|_| !values.is_empty()) else {
        return Vec::new();
    };
    let scores = multirule(&MultiruleInput {
        values: values.to_vec(),
        means: vec![lines.assigned_value],
        standard_deviations: vec![lines.standard_deviation],
        first_number: None,
        runs: Vec::new(),
        rules: vec![ControlRule::OneBeyondTwo],
        dated_at: RuleDate::Completing,
    });
    let Some(scores) = kept("z", scores, missing) else {
        return Vec::new();
    };
    let warned = scores.signals.first().map(|signal| &signal.dated_at);
    let numbered = charted.iter().zip(&scores.z).enumerate();
    numbered
        .map(|(place, (one, z))| {
            let number = place.saturating_add(1);
            let rules = judge_by_rules(one.run, input.values).signals.into_iter();
            ChartedControl {
                number,
                run: one.run,
                read_at: one.read_at,
                kit_lot: one.group.kit_lot,
                reader: one.group.reader,
                value: Number(one.value),
                z: *z,
                warning: warned.is_some_and(|at| at.contains(&number)),
                rules: rules
                    .filter(|signal| signal.analyte == input.analyte())
                    .map(|signal| CompletedRule {
                        rule: signal.rule,
                        runs: signal.runs,
                    })
                    .collect(),
            }
        })
        .collect()
}
