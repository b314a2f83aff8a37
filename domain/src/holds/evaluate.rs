//! From the facts about a run to its holds.
//!
//! Promises the same holds for the same facts, sorted, each once, whatever the order in which the
//! facts are listed. A withdrawn run, and one that is still under way, has none.

mod equipment;
mod kit;
mod people;
mod preparation;
mod reading;

use super::{HoldDraft, HoldKind, RunFacts};
use crate::results::UnknownRules;
use crate::runs::{Run, RunState};
use crate::signals::check_signals;

/// What is amiss with a run.
///
/// ```
/// use domain::holds::{evaluate_run, HoldKind, RunFacts};
/// use domain::runs::{Run, RunContext, RunEntry};
/// let entry: RunEntry = serde_json::from_str(
///     r#"{"port":1,"read_at":"2026-03-01T08:15:00Z","readings":[
///         {"analyte":"zearalenone","kind":"number","value":"40","unit":"ug/kg"}]}"#)?;
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// let holds = evaluate_run(&run, &RunFacts::at("2026-03-01T08:20:00Z".parse()?));
/// let kinds: Vec<_> = holds.iter().map(|hold| hold.kind).collect();
/// assert!(kinds.contains(&HoldKind::NoSample) && kinds.contains(&HoldKind::AnalystUnknown));
/// assert!(evaluate_run(&run.withdraw()?, &RunFacts::at("2026-03-01T08:20:00Z".parse()?))
///     .is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn evaluate_run(run: &Run, facts: &RunFacts<'_>) -> Vec<HoldDraft> {
    by_rules_2(run, facts)
}

/// What is amiss with a run by the rules that a record names, so that a verifier finds what was
/// found then.
///
/// # Errors
/// [`UnknownRules`].
///
/// ```
/// use domain::holds::{evaluate_run_by, RunFacts};
/// use domain::runs::{Run, RunContext, RunEntry};
/// let entry: RunEntry = serde_json::from_str(
///     r#"{"port":1,"read_at":"2026-03-01T08:15:00Z","readings":[
///         {"analyte":"zearalenone","kind":"number","value":"40","unit":"ug/kg"}]}"#)?;
/// let run = Run::record(entry, &RunContext::default(), vec![])?;
/// let facts = RunFacts::at("2026-03-01T08:20:00Z".parse()?);
/// assert!(!evaluate_run_by(1, &run, &facts)?.is_empty());
/// assert!(evaluate_run_by(4, &run, &facts).is_err(), "rules 4 are not written");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn evaluate_run_by(
    rules: u32,
    run: &Run,
    facts: &RunFacts<'_>,
) -> Result<Vec<HoldDraft>, UnknownRules> {
    match rules {
        1 => Ok(by_rules_1(run, facts)),
        // Those of number 3 add holds of samples; of runs they see diluted controls otherwise.
        2 | 3 => Ok(by_rules_2(run, facts)),
        number => Err(UnknownRules { number }),
    }
}

fn by_rules_1(run: &Run, facts: &RunFacts<'_>) -> Vec<HoldDraft> {
    match run.state {
        RunState::Begun | RunState::Withdrawn => return Vec::new(),
        RunState::Recorded | RunState::Unassigned => {}
    }
    let mut drafts = Vec::new();
    people::evaluate(run, facts, &mut drafts);
    kit::evaluate(run, facts, &mut drafts);
    equipment::evaluate(run, facts, &mut drafts);
    preparation::evaluate(run, facts, &mut drafts);
    reading::evaluate(run, facts, &mut drafts);
    drafts.sort_unstable();
    drafts.dedup();
    drafts
}

/// Those of rules number 1, what the rules over control runs say, and readings that do not follow
/// from their signals. (No signals were recorded while rules number 1 were in force.)
fn by_rules_2(run: &Run, facts: &RunFacts<'_>) -> Vec<HoldDraft> {
    let mut drafts = by_rules_1(run, facts);
    let stands = match run.state {
        RunState::Begun | RunState::Withdrawn => false,
        RunState::Recorded | RunState::Unassigned => true,
    };
    if stands {
        let signals = facts.control_signals.iter();
        drafts.extend(signals.map(|signal| {
            HoldDraft::new(HoldKind::ControlRule, signal.detail.as_str()).about(signal.analyte)
        }));
        by_signals(run, facts, &mut drafts);
        drafts.sort_unstable();
        drafts.dedup();
    }
    drafts
}

fn by_signals(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    let Some(lot) = facts.kit_lot else { return };
    let procedure = facts.procedure.map(|one| &one.entry);
    let found = check_signals(run, &lot.entry, procedure);
    drafts.extend(
        found.iter().filter(|one| !one.agrees).map(|one| {
            HoldDraft::new(HoldKind::SignalDisagreement, one.said(run)).about(one.analyte)
        }),
    );
}
