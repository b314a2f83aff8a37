//! The multi-rule set over the control runs of one group: one material, procedure, analyte, kit lot
//! and reader.
//!
//! Promises that a control run is judged over itself and the eleven before it in the order of the
//! times read, and that every version that was looked at is named. Refuses to judge what is no
//! number, what was diluted, and a material whose values cannot be scattered about its assigned
//! one, such as a blank.

use rust_decimal::Decimal;

use super::SeriesRun;
use super::excluded::of_run;
use crate::analytes::Analyte;
use crate::control_materials::{AssignedValue, ControlMaterial};
use crate::id::{ControlMaterialId, KitLotId, ProcedureId, ReaderId, RunId};
use crate::quantity::Number;
use crate::results::Facts;
use crate::runs::{ReadingKind, Run};
use crate::statistics::control::{ControlRule, MultiruleInput, RuleDate, multirule};
use crate::time::Moment;
use crate::versions::{SubjectVersion, in_order};

/// How many control runs are looked at: as many as the longest rule needs, and two more.
pub const CONTROLS_LOOKED_AT: usize = 12;

/// The rules that hold, with the number of control runs that make each of them up.
const RULES: [(ControlRule, usize); 5] = [
    (ControlRule::OneBeyondThree, 1),
    (ControlRule::TwoBeyondTwo, 2),
    (ControlRule::RangeBeyondFour, 2),
    (ControlRule::FourBeyondOne, 4),
    (ControlRule::TenOnOneSide, 10),
];

/// Control runs that are looked at together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ControlGroup {
    /// The material.
    pub material: ControlMaterialId,
    /// The procedure.
    pub procedure: ProcedureId,
    /// What was measured.
    pub analyte: Analyte,
    /// The kit lot.
    pub kit_lot: KitLotId,
    /// The reader.
    pub reader: ReaderId,
}

/// What one control run gave of one analyte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ControlValue {
    /// The run.
    pub run: RunId,
    /// When it was read.
    pub read_at: Moment,
    /// Among which others it counts.
    pub group: ControlGroup,
    /// µg/kg.
    pub value: Decimal,
    /// The material's assigned value, µg/kg.
    pub mean: Decimal,
    /// The standard deviation of single control runs, µg/kg, above zero.
    pub deviation: Decimal,
    /// The versions of the run, its sample and its material.
    pub from: Vec<SubjectVersion>,
}

/// A rule that a control run completes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct ControlSignal {
    /// Of what.
    pub analyte: Analyte,
    /// The rule, the last value with its z, and the control runs that make it up.
    pub detail: String,
    /// The rule.
    pub rule: ControlRule,
    /// The control runs that make it up, in the order of the times read.
    pub runs: Vec<RunId>,
}

/// What the rules say of a control run.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct JudgedByRules {
    /// The rules that it completes, by analyte.
    pub signals: Vec<ControlSignal>,
    /// The versions of all control runs that were looked at.
    pub from: Vec<SubjectVersion>,
}

/// The standard deviation of single control runs of a material: the one that is stated, else a
/// quarter of the window, which is taken to be two standard deviations wide on each side (*common
/// practice, no source*). None where the assigned value lies at an end of the window, as that of a
/// blank does: its values lie on one side.
///
/// ```
/// use domain::control_materials::AssignedValue;
/// use domain::quality_control::deviation_of;
/// let assigned: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"deoxynivalenol","assigned_value":"1000","lower":"800","upper":"1200"}"#)?;
/// assert_eq!(deviation_of(&assigned).unwrap().to_string(), "100");
/// let blank: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"deoxynivalenol","assigned_value":"0","lower":"0","upper":"100"}"#)?;
/// assert!(deviation_of(&blank).is_none());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn deviation_of(assigned: &AssignedValue) -> Option<Decimal> {
    if let Some(stated) = assigned.standard_deviation {
        return Some(stated.ug_per_kg()).filter(|stated| *stated > Decimal::ZERO);
    }
    if assigned.assigned_value <= assigned.lower || assigned.assigned_value >= assigned.upper {
        return None;
    }
    let window = assigned
        .upper
        .ug_per_kg()
        .checked_sub(assigned.lower.ug_per_kg())?;
    window.checked_div(Decimal::from(4)).map(|s| s.normalize())
}

/// What a control run gave, an analyte each, as far as it can be judged by rules: a number of an
/// undiluted run whose procedure, kit lot and reader are known. `from` are the versions of the run
/// and of its sample.
#[must_use]
pub fn control_values(
    id: RunId,
    run: &Run,
    material: Facts<'_, ControlMaterial>,
    from: &[SubjectVersion],
) -> Vec<ControlValue> {
    let entry = &run.entry;
    let (Some(procedure), Some(kit_lot), Some(reader), Some(read_at), None) = (
        entry.procedure,
        entry.kit_lot,
        entry.reader,
        entry.read_at,
        of_run(run),
    ) else {
        return Vec::new();
    };
    let numbers = entry
        .readings
        .iter()
        .filter(|reading| reading.kind == ReadingKind::Number);
    let values = numbers.filter_map(|reading| {
        let mut assigned = material.content.analytes.iter();
        let assigned = assigned.find(|one| one.analyte == reading.analyte)?;
        Some(ControlValue {
            run: id,
            read_at,
            group: ControlGroup {
                material: ControlMaterialId(material.source.subject),
                procedure,
                analyte: reading.analyte,
                kit_lot,
                reader,
            },
            value: reading.concentration()?.ug_per_kg(),
            mean: assigned.assigned_value.ug_per_kg(),
            deviation: deviation_of(assigned)?,
            from: from.iter().copied().chain([material.source]).collect(),
        })
    });
    values.collect()
}

/// What the rules say of each control run of a series; `values` are those of its control runs and
/// of the earlier ones of the same groups, in any order.
pub fn judge_series(series: &mut [SeriesRun], values: &[ControlValue]) {
    for one in series.iter_mut().filter(|one| one.control.is_some()) {
        one.rules = judge_by_rules(one.run, values);
    }
}

/// What the rules say of a control run.
///
/// ```
/// use domain::quality_control::judge_by_rules;
/// let run = "019ca869-5003-7d46-b59c-6cf85cca5702".parse()?;
/// assert!(judge_by_rules(run, &[]).signals.is_empty(), "nothing is known of it");
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn judge_by_rules(control: RunId, values: &[ControlValue]) -> JudgedByRules {
    let mut judged = JudgedByRules::default();
    for last in values.iter().filter(|value| value.run == control) {
        let mut group: Vec<&ControlValue> = values
            .iter()
            .filter(|one| one.group == last.group)
            .filter(|one| (one.read_at, one.run) <= (last.read_at, last.run))
            .collect();
        group.sort_by_key(|one| (one.read_at, one.run));
        group.dedup_by_key(|one| one.run);
        let surplus = group.len().saturating_sub(CONTROLS_LOOKED_AT);
        let group = group.split_off(surplus);
        judged
            .from
            .extend(group.iter().flat_map(|one| one.from.iter().copied()));
        judged.signals.extend(completed(last, &group));
    }
    judged.from = in_order(judged.from);
    judged.signals.sort_unstable();
    judged.signals.dedup();
    judged
}

/// The rules that the last of a group completes.
fn completed(last: &ControlValue, group: &[&ControlValue]) -> Vec<ControlSignal> {
    let input = MultiruleInput {
        values: group.iter().map(|one| Number(one.value)).collect(),
        means: vec![Number(last.mean)],
        standard_deviations: vec![Number(last.deviation)],
        first_number: None,
        runs: Vec::new(),
        rules: RULES.iter().map(|(rule, _)| *rule).collect(),
        dated_at: RuleDate::Completing,
    };
    // Figures too large to be divided say nothing; the window says that they are out.
    let Ok(outcome) = multirule(&input) else {
        return Vec::new();
    };
    let z = outcome.z.last().map(|z| z.0.round_dp(2).normalize());
    let mut found = Vec::new();
    for (rule, length) in RULES {
        let dated = outcome.signals.iter().find(|signal| signal.rule == rule);
        if dated.is_none_or(|signal| !signal.dated_at.contains(&group.len())) {
            continue;
        }
        let first = group.len().saturating_sub(length);
        let runs: Vec<RunId> = group.iter().skip(first).map(|one| one.run).collect();
        let named: Vec<String> = runs.iter().map(RunId::to_string).collect();
        found.push(ControlSignal {
            analyte: last.group.analyte,
            detail: format!(
                "rule {}: the control run read at {} gave {} µg/kg against {} with a standard \
                 deviation of {}, z = {}: runs {}",
                rule.word(),
                last.read_at,
                last.value,
                last.mean,
                last.deviation,
                z.unwrap_or_default(),
                named.join(", ")
            ),
            rule,
            runs,
        });
    }
    found
}

/// The rules that the nearest control runs on either side of a run complete, for the analytes
/// asked: with them it is bracketed by a control that failed.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::quality_control::signals_for;
/// let run = "019ca869-5003-7d46-b59c-6cf85cca5702".parse()?;
/// assert!(signals_for(run, &[], &[Analyte::Zearalenone]).is_empty());
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn signals_for(run: RunId, runs: &[SeriesRun], analytes: &[Analyte]) -> Vec<ControlSignal> {
    let mut found: Vec<ControlSignal> = Vec::new();
    for analyte in analytes {
        for control in super::nearest_controls(run, runs, *analyte) {
            let signals = control.rules.signals.iter();
            found.extend(signals.filter(|one| one.analyte == *analyte).cloned());
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

/// The versions that [`signals_for`] looks at beside those that [`super::bearing`] names.
#[must_use]
pub fn rules_bearing(run: RunId, runs: &[SeriesRun], analytes: &[Analyte]) -> Vec<SubjectVersion> {
    let nearest = analytes
        .iter()
        .flat_map(|analyte| super::nearest_controls(run, runs, *analyte));
    in_order(
        nearest
            .flat_map(|control| control.rules.from.iter().copied())
            .collect(),
    )
}

#[cfg(test)]
mod tests;
