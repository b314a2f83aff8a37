//! Control runs of a series: accepted, out or missing, what the rules over their group say, and
//! which runs they cover.
//!
//! Promises that a run is covered only by control runs of its own series, in the order of the
//! times read; refuses to take an over-range or invalid control for a number.
//!
//! A run is *out* where the control before it or the one after it is out: what happened between
//! the two is in doubt. It is *missing* its control where there is none on either side, or where
//! more runs lie between than the procedure allows.

mod by_rules;
mod diluted;
mod excluded;

pub use by_rules::{
    CONTROLS_LOOKED_AT, ControlGroup, ControlSignal, ControlValue, JudgedByRules, control_values,
    deviation_of, judge_by_rules, judge_series, rules_bearing, signals_for,
};
pub use diluted::{as_seen_by, verdicts_as_read};
pub use excluded::{ControlExclusion, why_excluded};

use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::control_materials::{AssignedValue, ControlMaterial};
use crate::id::RunId;
use crate::quantity::Concentration;
use crate::runs::{Reading, ReadingKind, Run};
use crate::time::Moment;
use crate::versions::{SubjectVersion, in_order};

/// What a control run says about an analyte.
///
/// ```
/// use domain::quality_control::ControlVerdict;
/// assert!(ControlVerdict::Accepted.is_accepted());
/// assert!(!ControlVerdict::Missing { detail: "no control".into() }.is_accepted());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "verdict", rename_all = "kebab-case")]
pub enum ControlVerdict {
    /// Inside the window.
    Accepted,
    /// Outside the window.
    Out {
        /// The value or bound, and the window.
        detail: String,
    },
    /// There is no control that can say.
    Missing {
        /// Why.
        detail: String,
    },
}

impl ControlVerdict {
    /// Whether it is inside the window.
    #[must_use]
    pub const fn is_accepted(&self) -> bool {
        matches!(self, Self::Accepted)
    }
}

/// Compares one reading of a control with what is assigned to its material; both ends of the
/// window are inside it. `value` is the reading's value or bound after dilution, in µg/kg.
///
/// Below a bound is accepted only where zero and the bound are both inside the window, as for a
/// blank; above a bound is always out.
///
/// ```
/// use domain::control_materials::AssignedValue;
/// use domain::quality_control::{judge, ControlVerdict};
/// use domain::runs::ReadingKind;
/// let assigned: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"deoxynivalenol","assigned_value":"1000","lower":"800","upper":"1200"}"#)?;
/// let value = |text: &str| serde_json::from_str(&format!("\"{text}\"")).ok();
/// assert_eq!(judge(ReadingKind::Number, value("1200"), &assigned), ControlVerdict::Accepted);
/// let out = judge(ReadingKind::Number, value("1200.1"), &assigned);
/// assert!(matches!(out, ControlVerdict::Out { .. }));
/// let invalid = judge(ReadingKind::Invalid, None, &assigned);
/// assert!(matches!(invalid, ControlVerdict::Missing { .. }));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn judge(
    kind: ReadingKind,
    value: Option<Concentration>,
    assigned: &AssignedValue,
) -> ControlVerdict {
    let (lower, upper) = (assigned.lower, assigned.upper);
    let zero = Concentration::from_ug_per_kg(rust_decimal::Decimal::ZERO);
    let window = format!("the window is {lower} to {upper} µg/kg");
    let (inside, shown) = match (kind, value) {
        (ReadingKind::Number, Some(value)) => {
            (lower <= value && value <= upper, format!("{value} µg/kg"))
        }
        (ReadingKind::Below, Some(bound)) => {
            (lower <= zero && bound <= upper, format!("< {bound} µg/kg"))
        }
        (ReadingKind::Above, Some(bound)) => (false, format!("> {bound} µg/kg")),
        (ReadingKind::NotDetected, _) => (lower <= zero, "not detected".to_owned()),
        (ReadingKind::Invalid, _)
        | (ReadingKind::Number | ReadingKind::Below | ReadingKind::Above, None) => {
            let detail = "the control run gave no valid reading".to_owned();
            return ControlVerdict::Missing { detail };
        }
    };
    if inside {
        ControlVerdict::Accepted
    } else {
        let detail = format!("the control gave {shown}; {window}");
        ControlVerdict::Out { detail }
    }
}

/// Compares a control run's reading with its material as it was read, whatever was diluted.
///
/// ```
/// use domain::control_materials::AssignedValue;
/// use domain::quality_control::judge_reading;
/// let assigned: AssignedValue = serde_json::from_str(
///     r#"{"analyte":"deoxynivalenol","assigned_value":"1000","lower":"800","upper":"1200"}"#)?;
/// let reading = serde_json::from_str(
///     r#"{"analyte":"deoxynivalenol","kind":"number","value":"0.9","unit":"mg/kg"}"#)?;
/// assert!(judge_reading(&reading, &assigned).is_accepted());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn judge_reading(reading: &Reading, assigned: &AssignedValue) -> ControlVerdict {
    judge(reading.kind, reading.concentration(), assigned)
}

/// One run of a series, as quality control sees it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeriesRun {
    /// Which run.
    pub run: RunId,
    /// When it was read.
    pub read_at: Moment,
    /// Its verdicts where it is a control; none where it is no control.
    pub control: Option<Vec<(Analyte, ControlVerdict)>>,
    /// Those of a diluted control as rules before number 3 give them; none where they are the same.
    pub as_read: Option<Vec<(Analyte, ControlVerdict)>>,
    /// The version of the run; of a control also those of its sample and its material.
    pub from: Vec<SubjectVersion>,
    /// What the rules over the control runs of its group say, where it is a control.
    pub rules: JudgedByRules,
}

/// What a control run says of each analyte that is assigned to its material, after its dilution; of
/// a material that is not known, nothing.
///
/// ```
/// use domain::quality_control::control_verdicts;
/// use domain::runs::{Run, RunContext, RunEntry};
/// let entry: RunEntry = serde_json::from_str(
///     r#"{"port":1,"read_at":"2026-03-01T08:15:00Z","readings":[
///         {"analyte":"zearalenone","kind":"number","value":"40","unit":"ug/kg"}]}"#)?;
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// assert!(control_verdicts(&run, None).is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn control_verdicts(
    run: &Run,
    material: Option<&ControlMaterial>,
) -> Vec<(Analyte, ControlVerdict)> {
    verdicts_of(run, material, |reading, assigned| {
        judge(reading.kind, diluted::multiplied(run, reading), assigned)
    })
}

fn verdicts_of(
    run: &Run,
    material: Option<&ControlMaterial>,
    verdict: impl Fn(&Reading, &AssignedValue) -> ControlVerdict,
) -> Vec<(Analyte, ControlVerdict)> {
    let assigned = material.map_or(&[][..], |material| material.analytes.as_slice());
    let judged = run.entry.readings.iter().filter_map(|reading| {
        let mut assigned = assigned.iter();
        let assigned = assigned.find(|assigned| assigned.analyte == reading.analyte)?;
        Some((reading.analyte, verdict(reading, assigned)))
    });
    judged.collect()
}

/// The versions that [`verdicts_for`] looks at for a run: its own, and on either side those of the
/// runs up to the nearest control. Where there is no control on a side, no run there bears on it.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::quality_control::bearing;
/// let run = "019ca869-5003-7d46-b59c-6cf85cca5702".parse()?;
/// assert!(bearing(run, &[], &[Analyte::Zearalenone]).is_empty());
/// # Ok::<(), uuid::Error>(())
/// ```
#[must_use]
pub fn bearing(run: RunId, runs: &[SeriesRun], analytes: &[Analyte]) -> Vec<SubjectVersion> {
    let mut ordered: Vec<&SeriesRun> = runs.iter().collect();
    ordered.sort_by_key(|one| (one.read_at, one.run));
    let Some(position) = ordered.iter().position(|one| one.run == run) else {
        return Vec::new();
    };
    let (earlier, from_run) = ordered.split_at(position);
    let mut found: Vec<&SeriesRun> = from_run.iter().take(1).copied().collect();
    for analyte in analytes {
        found.extend(up_to_control(earlier.iter().rev().copied(), *analyte));
        found.extend(up_to_control(from_run.iter().skip(1).copied(), *analyte));
    }
    let from = found.into_iter().flat_map(|one| one.from.iter().copied());
    in_order(from.collect())
}

/// The runs up to the nearest control that says something of the analyte; none where there is none.
fn up_to_control<'a>(
    runs: impl Iterator<Item = &'a SeriesRun>,
    analyte: Analyte,
) -> Vec<&'a SeriesRun> {
    let mut found = Vec::new();
    for one in runs {
        found.push(one);
        let verdicts = one.control.iter().flatten();
        if says(verdicts, analyte).is_some() {
            return found;
        }
    }
    Vec::new()
}

/// The nearest controls on either side of a run that say something of an analyte.
fn nearest_controls(run: RunId, runs: &[SeriesRun], analyte: Analyte) -> Vec<&SeriesRun> {
    let place = |one: &SeriesRun| (one.read_at, one.run);
    let Some(own) = runs.iter().find(|one| one.run == run).map(place) else {
        return Vec::new();
    };
    let speaking = runs
        .iter()
        .filter(|one| says(one.control.iter().flatten(), analyte).is_some());
    let before = speaking.clone().filter(|one| place(one) < own);
    let after = speaking.filter(|one| place(one) > own);
    let before = before.max_by_key(|one| place(one));
    let after = after.min_by_key(|one| place(one));
    before.into_iter().chain(after).collect()
}

/// The verdict on an analyte, where there is one.
fn says<'a>(
    mut verdicts: impl Iterator<Item = &'a (Analyte, ControlVerdict)>,
    analyte: Analyte,
) -> Option<&'a ControlVerdict> {
    let said = verdicts
        .find(|(of, verdict)| *of == analyte && !matches!(verdict, ControlVerdict::Missing { .. }));
    said.map(|(_, verdict)| verdict)
}

/// What the controls of a series say about one of its runs, for the analytes asked, in their
/// order and each once. `runs` are those that were not withdrawn, in any order.
///
/// ```
/// use domain::analytes::Analyte;
/// use domain::quality_control::{verdicts_for, ControlVerdict, SeriesRun};
/// let (control, sample) = ("019ca869-5003-7d46-b59c-6cf85cca5701".parse()?,
///     "019ca869-5003-7d46-b59c-6cf85cca5702".parse()?);
/// let don = Analyte::Deoxynivalenol;
/// let runs = [
///     SeriesRun { run: sample, read_at: "2026-03-01T08:10:00Z".parse()?, control: None,
///         as_read: None, from: vec![], rules: Default::default() },
///     SeriesRun { run: control, read_at: "2026-03-01T08:00:00Z".parse()?,
///         control: Some(vec![(don, ControlVerdict::Accepted)]), as_read: None, from: vec![],
///         rules: Default::default() },
/// ];
/// assert!(verdicts_for(sample, &runs, &[don], Some(10))[0].1.is_accepted());
/// let zearalenone = &verdicts_for(sample, &runs, &[Analyte::Zearalenone], Some(10))[0].1;
/// assert!(matches!(zearalenone, ControlVerdict::Missing { .. }));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn verdicts_for(
    run: RunId,
    runs: &[SeriesRun],
    analytes: &[Analyte],
    maximum_runs_between: Option<u32>,
) -> Vec<(Analyte, ControlVerdict)> {
    let mut ordered: Vec<&SeriesRun> = runs.iter().collect();
    ordered.sort_by_key(|one| (one.read_at, one.run));
    let mut asked = analytes.to_vec();
    asked.sort_unstable();
    asked.dedup();
    asked
        .into_iter()
        .map(|analyte| {
            (
                analyte,
                verdict(run, &ordered, analyte, maximum_runs_between),
            )
        })
        .collect()
}

fn verdict(
    run: RunId,
    ordered: &[&SeriesRun],
    analyte: Analyte,
    maximum_runs_between: Option<u32>,
) -> ControlVerdict {
    let missing = |detail: &str| ControlVerdict::Missing {
        detail: format!("{analyte}: {detail}"),
    };
    let Some(position) = ordered.iter().position(|one| one.run == run) else {
        return missing("the run is not one of the series");
    };
    let (earlier, from_run) = ordered.split_at(position);
    let later = from_run.get(1..).unwrap_or_default();
    let before = nearest(earlier.iter().rev().copied(), analyte);
    let after = nearest(later.iter().copied(), analyte);
    for (verdict, _) in [&before, &after].into_iter().flatten() {
        if let ControlVerdict::Out { .. } = verdict {
            return (*verdict).clone();
        }
    }
    let Some(distance) = before.or(after).map(|(_, distance)| distance) else {
        return missing("the series has no valid control run");
    };
    match maximum_runs_between {
        Some(most) if distance > most => missing(&format!(
            "the run is number {distance} from its control run; the procedure allows {most}"
        )),
        Some(_) | None => ControlVerdict::Accepted,
    }
}

/// The nearest control that says something about the analyte, with how many runs it is away: the
/// run itself and those between that are no controls for it.
fn nearest<'a>(
    runs: impl Iterator<Item = &'a SeriesRun>,
    analyte: Analyte,
) -> Option<(&'a ControlVerdict, u32)> {
    let mut distance: u32 = 1;
    for one in runs {
        match &one.control {
            Some(verdicts) => {
                if let Some(verdict) = says(verdicts.iter(), analyte) {
                    return Some((verdict, distance));
                }
            }
            None => distance = distance.saturating_add(1),
        }
    }
    None
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    const DON: Analyte = Analyte::Deoxynivalenol;

    fn id(number: usize) -> RunId {
        format!("019ca869-5003-7d46-b59c-0000000000{number:02}")
            .parse()
            .unwrap()
    }

    /// `a` an accepted control, `o` one that is out, `i` an invalid one, `s` a sample's run.
    fn series(plan: &str) -> Vec<SeriesRun> {
        let out = |detail: &str| ControlVerdict::Out {
            detail: detail.into(),
        };
        let none = |detail: &str| ControlVerdict::Missing {
            detail: detail.into(),
        };
        plan.chars()
            .enumerate()
            .map(|(number, letter)| SeriesRun {
                run: id(number),
                read_at: format!("2026-03-01T08:{number:02}:00Z").parse().unwrap(),
                as_read: None,
                control: match letter {
                    'a' => Some(vec![(DON, ControlVerdict::Accepted)]),
                    'o' => Some(vec![(DON, out("900"))]),
                    'i' => Some(vec![(DON, none("invalid"))]),
                    _ => None,
                },
                from: vec![SubjectVersion {
                    subject: id(number).0,
                    version: 1,
                }],
                rules: JudgedByRules::default(),
            })
            .collect()
    }

    fn letters(plan: &str, most: Option<u32>) -> String {
        let mut runs = series(plan);
        runs.reverse();
        plan.chars()
            .enumerate()
            .map(|(number, letter)| {
                if letter != 's' {
                    return letter;
                }
                match verdicts_for(id(number), &runs, &[DON], most)
                    .pop()
                    .unwrap()
                    .1
                {
                    ControlVerdict::Accepted => '+',
                    ControlVerdict::Out { .. } => '!',
                    ControlVerdict::Missing { .. } => '?',
                }
            })
            .collect()
    }

    #[test]
    fn a_control_on_either_side_covers_a_run_and_one_that_is_out_covers_none() {
        assert_eq!(letters("assa", None), "a++a");
        assert_eq!(letters("sso", None), "!!o");
        assert_eq!(letters("assos", None), "a!!o!");
        assert_eq!(letters("assoass", None), "a!!oa++");
        assert_eq!(letters("sss", None), "???");
        assert_eq!(letters("sa", None), "+a");
        assert_eq!(letters("is", None), "i?");
    }

    #[test]
    fn no_more_runs_than_the_procedure_allows_lie_between_controls() {
        assert_eq!(letters("assss", Some(2)), "a++??");
        assert_eq!(letters("assas", Some(2)), "a++a+");
        assert_eq!(letters("sssa", Some(2)), "?++a");
    }

    /// The verdict, and the same from the runs that bear on it alone.
    #[test]
    fn the_runs_that_bear_on_a_run_give_its_verdict() {
        for plan in ["assa", "sso", "assos", "sss", "isas", "assassa", "aisss"] {
            let runs = series(plan);
            for number in 0..plan.len() {
                let from = bearing(id(number), &runs, &[DON]);
                let mut few = runs.clone();
                few.retain(|one| from.iter().any(|named| named.subject == one.run.0));
                for most in [None, Some(1), Some(2)] {
                    assert_eq!(
                        verdicts_for(id(number), &few, &[DON], most),
                        verdicts_for(id(number), &runs, &[DON], most),
                        "{plan} {number}"
                    );
                }
            }
        }
        let named = bearing(id(2), &series("sasssa"), &[DON]);
        assert_eq!(named.len(), 5, "the first run lies behind a control");
    }

    #[test]
    fn a_blank_is_accepted_below_its_upper_end() {
        let blank: AssignedValue = serde_json::from_str(
            r#"{"analyte":"deoxynivalenol","assigned_value":"0","lower":"0","upper":"100"}"#,
        )
        .unwrap();
        let value = |v: i64| Some(Concentration::from_ug_per_kg(v.into()));
        assert!(judge(ReadingKind::Below, value(100), &blank).is_accepted());
        assert!(!judge(ReadingKind::Below, value(200), &blank).is_accepted());
        assert!(judge(ReadingKind::NotDetected, None, &blank).is_accepted());
        assert!(!judge(ReadingKind::Above, value(50), &blank).is_accepted());
    }
}
