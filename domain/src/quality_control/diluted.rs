//! Control runs that were diluted.
//!
//! Promises that their values are multiplied once before they are compared, from rules number 3
//! on. Rules before that compared what the strip showed: what they found they find again.

use std::borrow::Cow;

use super::{ControlVerdict, SeriesRun, judge_reading, verdicts_of};
use crate::analytes::Analyte;
use crate::control_materials::ControlMaterial;
use crate::quantity::{Concentration, computed};
use crate::runs::{Reading, Run};

/// What a diluted control run says by rules before number 3, which compare what the strip showed
/// before it is multiplied; none of one whose value stands already.
///
/// ```
/// use domain::control_materials::ControlMaterial;
/// use domain::quality_control::{control_verdicts, verdicts_as_read};
/// use domain::runs::{Run, RunContext, RunEntry};
/// let material: ControlMaterial = serde_json::from_str(r#"{"code":"CM-1","name":"maize",
///     "commodity":"maize-grain","lot":"7","expires_on":"2027-01-01",
///     "analytes":[{"analyte":"aflatoxin-total","assigned_value":"75","lower":"60",
///     "upper":"90"}]}"#)?;
/// let entry: RunEntry = serde_json::from_str(include_str!("../runs/example.json"))?;
/// // 12.5 µg/kg after 100 µL + 500 µL: 75.
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// assert!(control_verdicts(&run, Some(&material))[0].1.is_accepted());
/// assert!(!verdicts_as_read(&run, Some(&material)).unwrap()[0].1.is_accepted());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn verdicts_as_read(
    run: &Run,
    material: Option<&ControlMaterial>,
) -> Option<Vec<(Analyte, ControlVerdict)>> {
    let differ = !run.factor.is_one() && !run.entry.value_includes_factor;
    differ.then(|| verdicts_of(run, material, judge_reading))
}

/// A reading's value or bound, multiplied by the run's dilution once.
pub(super) fn multiplied(run: &Run, reading: &Reading) -> Option<Concentration> {
    let value = reading.concentration()?;
    if run.entry.value_includes_factor {
        return Some(value);
    }
    let multiplied = run.factor.apply(value.ug_per_kg()).ok()?;
    Some(Concentration::from_ug_per_kg(computed(multiplied)))
}

/// The runs of a series as the rules of a number see their controls.
///
/// ```
/// use domain::quality_control::as_seen_by;
/// assert!(as_seen_by(3, &[]).is_empty());
/// ```
#[must_use]
pub fn as_seen_by(rules: u32, runs: &[SeriesRun]) -> Cow<'_, [SeriesRun]> {
    if rules >= 3 || runs.iter().all(|one| one.as_read.is_none()) {
        return Cow::Borrowed(runs);
    }
    let seen = runs.iter().cloned().map(|one| SeriesRun {
        control: one.as_read.clone().or(one.control),
        ..one
    });
    Cow::Owned(seen.collect())
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]

    use super::super::verdicts_for;
    use super::*;

    #[test]
    fn rules_before_number_3_see_a_diluted_control_as_it_was_read() {
        let analyte = Analyte::AflatoxinTotal;
        let id = |last: u32| format!("019ca869-5003-7d46-b59c-6cf85cca570{last}");
        let out = ControlVerdict::Out {
            detail: "12.5 µg/kg".into(),
        };
        let one = |last, control, as_read| SeriesRun {
            run: id(last).parse().unwrap(),
            read_at: format!("2026-03-01T08:0{last}:00Z").parse().unwrap(),
            control,
            as_read,
            from: Vec::new(),
            rules: super::super::JudgedByRules::default(),
        };
        let accepted = Some(vec![(analyte, ControlVerdict::Accepted)]);
        let runs = [
            one(1, accepted, Some(vec![(analyte, out.clone())])),
            one(2, None, None),
        ];
        let verdict = |rules| {
            let seen = as_seen_by(rules, &runs);
            verdicts_for(id(2).parse().unwrap(), &seen, &[analyte], None)
        };
        assert_eq!(verdict(2), [(analyte, out.clone())]);
        assert_eq!(verdict(3), [(analyte, ControlVerdict::Accepted)]);
    }
}
