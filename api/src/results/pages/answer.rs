//! The first line of a sample's page: what is so, in one sentence.

use super::{due, limits, value, worst};
use crate::pages::{analyte, count};
use domain::{
    decisions::Verdict,
    holds::{Hold, HoldState},
    results::{Needs, ResultState, ResultVersion},
};

/// What is so with a sample; `is_lot` where it stands for goods that somebody waits to load.
pub(crate) fn answer(is_lot: bool, results: &[&ResultVersion], holds: &[&Hold]) -> String {
    let current: Vec<&ResultVersion> = results
        .iter()
        .copied()
        .filter(|result| {
            !matches!(
                result.state,
                ResultState::Superseded | ResultState::Cancelled
            )
        })
        .collect();
    let in_state =
        |state: ResultState| current.iter().copied().find(|result| result.state == state);
    if current.is_empty() {
        return "This sample waits for its first run.".into();
    }
    if let Some(result) = in_state(ResultState::NeedsARun) {
        return needs(result);
    }
    if in_state(ResultState::Held).is_some() {
        return held(holds);
    }
    if let Some(result) = in_state(ResultState::Returned) {
        return format!(
            "The reviewer returned this sample's {}: {}.",
            analyte(result.computed.analyte),
            said(result)
        );
    }
    let waiting: Vec<String> = current
        .iter()
        .filter(|result| result.state == ResultState::Ready)
        .map(|result| said(result))
        .collect();
    if !waiting.is_empty() {
        let what = if waiting.len() == 1 {
            "This result waits"
        } else {
            "These results wait"
        };
        return format!("{what} for a second person: {}.", waiting.join("; "));
    }
    released(is_lot, &current)
}

/// What is so with a lot, from the results of all its samples: what is left to do, counted; else
/// the answer.
pub(crate) fn answer_for_lot(results: &[&ResultVersion], holds: &[&Hold]) -> String {
    let number = |state: ResultState| {
        let those = results.iter().filter(|one| one.state == state).count();
        i64::try_from(those).unwrap_or(i64::MAX)
    };
    let part = |state: ResultState, one: &str, several: &str| {
        let number = number(state);
        (number > 0).then(|| count(number, one, several).to_lowercase())
    };
    let left: Vec<String> = [
        part(
            ResultState::NeedsARun,
            "result needs a run",
            "results need a run",
        ),
        part(ResultState::Held, "is held", "are held"),
        part(ResultState::Returned, "was returned", "were returned"),
        part(
            ResultState::Ready,
            "waits for a second person",
            "wait for a second person",
        ),
    ]
    .into_iter()
    .flatten()
    .collect();
    if left.is_empty() || results.len() == 1 {
        return answer(true, results, holds);
    }
    format!("This lot is not settled yet: {}.", left.join(", "))
}

/// Value and limits: `4.1 µg/kg total aflatoxins, limit 20`.
fn said(result: &ResultVersion) -> String {
    let value = value(result)
        .unwrap_or_else(|| format!("no value of {}", analyte(result.computed.analyte)));
    match limits(result) {
        none if none.is_empty() => value,
        limits => format!("{value}, {limits}"),
    }
}

fn needs(result: &ResultVersion) -> String {
    let name = analyte(result.computed.analyte);
    if result.computed.runs.is_empty() {
        return format!("This sample waits for its first run, for {name}.");
    }
    match result.computed.needs {
        Some(Needs::Dilution) => {
            let volumes = due(result).unwrap_or_default();
            let bound = result.computed.over_range_bound.map_or_else(
                || format!("{name} is over range"),
                |bound| {
                    let bound = crate::pages::shown(bound.ug_per_kg());
                    format!("it holds more than {bound}\u{a0}µg/kg {name}")
                },
            );
            format!("This sample needs a diluted run: {bound}. {volumes}")
        }
        Some(Needs::FurtherDeterminations { further }) => format!(
            "This sample needs {} of {name}: its replicates are too far apart.",
            count(
                further.into(),
                "further determination",
                "further determinations"
            )
            .to_lowercase()
        ),
        Some(Needs::Run) | None => {
            format!("This sample needs a run: none of its runs says anything of {name}.")
        }
    }
}

fn held(holds: &[&Hold]) -> String {
    let standing: Vec<_> = holds
        .iter()
        .filter(|hold| hold.state() == HoldState::Raised)
        .collect();
    let number = i64::try_from(standing.len()).unwrap_or(i64::MAX);
    let counted = count(number, "hold stands", "holds stand");
    match standing.as_slice() {
        [] => "Something keeps this sample's result from release.".into(),
        [only] => format!(
            "{counted} between this sample and its release: {}",
            lower(only.kind.explanation())
        ),
        _ => format!("{counted} between this sample and its release."),
    }
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_lowercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

fn released(is_lot: bool, current: &[&ResultVersion]) -> String {
    let all: Vec<String> = current.iter().map(|result| said(result)).collect();
    let all = all.join("; ");
    let rank = |verdict: &&Verdict| match verdict {
        Verdict::Pass | Verdict::Negative => 0,
        Verdict::ConditionalPass => 1,
        Verdict::Undecided { .. } => 2,
        Verdict::ConditionalFail => 3,
        Verdict::Suspect => 4,
        Verdict::Fail => 5,
    };
    let what = if is_lot { "lot" } else { "sample" };
    match current
        .iter()
        .filter_map(|result| worst(result))
        .max_by_key(rank)
    {
        None => format!("Released: {all}. No limit was asked about."),
        Some(Verdict::Pass | Verdict::Negative) if is_lot => {
            format!("This lot may be released: {all}.")
        }
        Some(Verdict::Pass | Verdict::Negative) => format!("Released: {all}."),
        Some(Verdict::ConditionalPass) => {
            format!("This {what} is within the limit, but close to it: {all}.")
        }
        Some(Verdict::ConditionalFail) => {
            format!("This {what} is over the limit, but close to it: {all}.")
        }
        Some(Verdict::Suspect) => {
            format!("This {what} is suspect, and a confirmatory method decides: {all}.")
        }
        Some(Verdict::Fail) => format!("This {what} is over a limit: {all}."),
        Some(Verdict::Undecided { reason }) => {
            format!("A limit stays undecided: {all}. {}", reason.explanation())
        }
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;
    use domain::holds::{Held, HoldDraft, HoldKind};
    use domain::results::ComputedResult;

    /// A diluted result over the limit of 20 µg/kg for total aflatoxins in food (FDA CPG 555.400).
    fn computed() -> ComputedResult {
        serde_json::from_str(include_str!("../../../../domain/src/results/example.json")).unwrap()
    }

    #[test]
    fn the_first_line_says_what_is_so() {
        let ready = ResultVersion::first(computed(), false);
        assert_eq!(
            answer(true, &[&ready], &[]),
            "This result waits for a second person: 48.0\u{a0}µg/kg total aflatoxins, limit 20."
        );
        let released = ready.release(false).unwrap();
        assert_eq!(
            answer(true, &[&released], &[]),
            "This lot is over a limit: 48.0\u{a0}µg/kg total aflatoxins, limit 20."
        );
        let mut passed = released.clone();
        passed.computed.reported = Some("4.1".into());
        for decision in &mut passed.computed.decisions {
            decision.decision = Verdict::Pass;
        }
        assert_eq!(
            answer(true, &[&passed], &[]),
            "This lot may be released: 4.1\u{a0}µg/kg total aflatoxins, limit 20."
        );
        assert_eq!(
            answer(true, &[&passed, &ready], &[]),
            "This result waits for a second person: 48.0\u{a0}µg/kg total aflatoxins, limit 20.",
            "what is still to be done goes first"
        );
        assert_eq!(
            answer(true, &[], &[]),
            "This sample waits for its first run."
        );
    }

    #[test]
    fn a_hold_is_said_by_what_it_means() {
        let held = ResultVersion::first(computed(), true);
        let run = "019ca869-6000-7000-8000-000000000002".parse().unwrap();
        let draft = HoldDraft::new(HoldKind::KitLotExpired, "AF-2601 until 2026-01-31");
        let hold = Hold::raise(Held::Run(run), None, draft, vec![]);
        assert_eq!(
            answer(true, &[&held], &[&hold]),
            "One hold stands between this sample and its release: the kit lot was used after its \
             last day."
        );
    }
}
