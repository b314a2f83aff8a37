//! How pages say and draw a result: in a sentence, on the scale, limit by limit.
//!
//! Promises words that follow from the result's record alone; a bound is never said as a number.

mod answer;
mod budget;
mod picture;
mod run;

pub(crate) use answer::{answer, answer_for_lot};
pub(crate) use budget::{BudgetView, LotView};
pub(crate) use picture::{dilution, scale_of};
pub(crate) use run::{kit_lot, port, read_out, unit};

use super::{Dossier, Reference};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    pages::{Tone, analyte, capital, shown, word},
};
use domain::{
    decisions::{Decision, Verdict},
    limits::{Authority, Limit},
    permitted_uses::{Outlook, PermittedUses},
    results::{LotDoubt, Needs, ResultState, ResultVersion},
};

/// A value with unit and analyte: `48.0 µg/kg total aflatoxins`, number and unit on one line;
/// none where there is none.
pub(crate) fn value(result: &ResultVersion) -> Option<String> {
    let reported = result.computed.reported.as_deref()?;
    Some(format!(
        "{reported}\u{a0}µg/kg {}",
        analyte(result.computed.analyte)
    ))
}

/// The limits of a result's decisions, shortly: `limit 20`, `limits 4 and 20`; empty where it has
/// none.
pub(crate) fn limits(result: &ResultVersion) -> String {
    let mut values: Vec<_> = result
        .computed
        .decisions
        .iter()
        .map(|decision| decision.limit_value)
        .collect();
    values.sort_unstable();
    values.dedup();
    let texts: Vec<String> = values
        .iter()
        .map(|value| shown(value.ug_per_kg()))
        .collect();
    match texts.split_last() {
        None => String::new(),
        Some((only, [])) => format!("limit {only}"),
        Some((last, others)) => format!("limits {} and {last}", others.join(", ")),
    }
}

/// The worst of a result's verdicts; none where no limit applies.
pub(crate) fn worst(result: &ResultVersion) -> Option<&Verdict> {
    worst_decision(result).map(|decision| &decision.decision)
}

/// The worst of a result's decisions, of two alike the one likelier not to conform.
fn worst_decision(result: &ResultVersion) -> Option<&Decision> {
    let badness = |verdict: &Verdict| match verdict {
        Verdict::Pass | Verdict::Negative => 0,
        Verdict::ConditionalPass => 1,
        Verdict::Undecided { .. } => 2,
        Verdict::ConditionalFail => 3,
        Verdict::Suspect => 4,
        Verdict::Fail => 5,
    };
    result.computed.decisions.iter().max_by_key(|one| {
        let likely = one.probability_of_conformity.map(|likely| likely.0);
        (badness(&one.decision), likely.map(std::cmp::Reverse))
    })
}

/// The worst of a result's decisions as HTML, with its probability of conformity where one is
/// known; empty where no limit applies.
pub(crate) fn worst_word(result: &ResultVersion) -> String {
    let Some(worst) = worst_decision(result) else {
        return String::new();
    };
    let likely = likely(worst).map_or_else(String::new, |likely| {
        format!("<div class=\"quiet nowrap\">{likely} likely to conform</div>")
    });
    format!("{}{likely}", verdict_word(&worst.decision))
}

/// The probability of conformity in percent, never said to be certain.
fn likely(decision: &Decision) -> Option<String> {
    budget::percent(decision.probability_of_conformity?)
}

/// A verdict as word, shape and colour.
pub(crate) fn verdict_word(verdict: &Verdict) -> String {
    let tone = match verdict {
        Verdict::Pass | Verdict::Negative => Tone::Good,
        Verdict::Fail | Verdict::Suspect | Verdict::ConditionalFail => Tone::Bad,
        Verdict::ConditionalPass | Verdict::Undecided { .. } => Tone::Open,
    };
    word(tone, verdict.name())
}

/// A state as word, shape and colour.
pub(crate) fn state_word(state: ResultState) -> String {
    let tone = match state {
        ResultState::Released => Tone::Good,
        ResultState::Held | ResultState::Returned => Tone::Bad,
        ResultState::NeedsARun
        | ResultState::Ready
        | ResultState::Superseded
        | ResultState::Cancelled => Tone::Open,
    };
    word(tone, state.words())
}

/// A limit's name, short enough for the scale: whose, and of what kind.
pub(crate) fn limit_name(reference: &Reference, id: &str) -> String {
    find_limit(reference, id).map_or_else(|| id.to_owned(), whose)
}

fn find_limit<'a>(reference: &'a Reference, id: &str) -> Option<&'a Limit> {
    reference.limits.iter().find(|limit| limit.id == id)
}

fn whose(limit: &Limit) -> String {
    match &limit.authority {
        Authority::Law {
            jurisdiction,
            authority_kind,
        } => format!("{jurisdiction} {}", authority_kind.name()),
        Authority::Contract { .. } => "contract".to_owned(),
        Authority::Intake { .. } => "intake".to_owned(),
    }
}

/// A decision, as a row.
pub(crate) struct DecisionView {
    /// The limit's name.
    pub limit: String,
    /// For which goods and use it is.
    pub covers: String,
    /// Its value, in µg/kg.
    pub value: String,
    /// Its basis.
    pub basis: String,
    /// The verdict, as HTML.
    pub verdict: String,
    /// The rule that decided, by its name.
    pub rule: &'static str,
    /// The probability of conformity; empty where the uncertainty is not known.
    pub likely: String,
    /// How likely the whole lot is above the limit; empty where that is not asked for or not known.
    pub lot_above: String,
    /// What the verdict means.
    pub explanation: String,
    /// Why, in sentences.
    pub reasons: Vec<String>,
}

impl DecisionView {
    fn of(reference: &Reference, decision: &Decision, lot: Option<&LotDoubt>) -> Self {
        Self {
            limit: limit_name(reference, &decision.limit),
            covers: find_limit(reference, &decision.limit)
                .map(|limit| format!("{}; {}", limit.commodity, limit.intended_use))
                .unwrap_or_default(),
            value: shown(decision.limit_value.ug_per_kg()),
            basis: decision.basis.to_string(),
            verdict: verdict_word(&decision.decision),
            rule: decision.rule.name(),
            likely: likely(decision).unwrap_or_default(),
            lot_above: lot
                .and_then(|lot| lot.chance_of(&decision.limit)?.probability_above)
                .and_then(budget::percent)
                .unwrap_or_default(),
            explanation: decision.decision.explanation().to_owned(),
            reasons: decision.reasons.clone(),
        }
    }
}

/// A use, as a row.
pub(crate) struct UseView {
    /// Whose law.
    pub jurisdiction: String,
    /// The use.
    pub name: String,
    /// Whether the load may go there, as HTML.
    pub outlook: String,
    /// What that means.
    pub explanation: &'static str,
    /// Its limits with their values, in µg/kg.
    pub limits: String,
}

/// A result, as a page shows it.
pub(crate) struct ResultView {
    /// The analyte, as one says it.
    pub analyte: &'static str,
    /// Its full name.
    pub full_name: String,
    /// The state, as HTML.
    pub state: String,
    /// The reported value, without unit.
    pub reported: Option<String>,
    /// What it came from.
    pub came_from: Option<String>,
    /// What is due first.
    pub due: Option<String>,
    /// Whether its certificate is due for amendment.
    pub amendment_due: bool,
    /// The scale, drawn; empty where nothing lies on it.
    pub picture: String,
    /// The scale's numbers, as a table.
    pub numbers: String,
    /// The uncertainty and its budget, where it is known.
    pub budget: Option<BudgetView>,
    /// The doubt of the lot, where the order asks for it.
    pub lot: Option<LotView>,
    /// Decisions, limit by limit.
    pub decisions: Vec<DecisionView>,
    /// Where the load may go; empty unless released.
    pub uses: Vec<UseView>,
    /// What the list of uses does not say.
    pub caution: String,
}

/// A result with everything that a page shows of it; `key` tells its picture from others.
pub(crate) async fn view(
    tx: &mut Tx,
    reference: &Reference,
    dossier: &Dossier,
    result: &Kept<ResultVersion>,
    key: &str,
) -> Answer<ResultView> {
    let scale = scale_of(reference, dossier, &result.content, key);
    let uses = match super::show_permitted_uses::of_result(tx, result, None).await {
        Ok(uses) => Some(uses),
        Err(ApiError::Refused { .. } | ApiError::Malformed(_)) => None,
        Err(error) => return Err(error),
    };
    let computed = &result.content.computed;
    Ok(ResultView {
        analyte: analyte(computed.analyte),
        full_name: capital(computed.analyte.name()),
        state: state_word(result.content.state),
        reported: computed.reported.clone(),
        came_from: came_from(&result.content),
        due: due(&result.content),
        amendment_due: result.content.amendment_due,
        picture: if scale.runs.is_empty() && scale.limits.is_empty() {
            String::new()
        } else {
            crate::scale::svg(&scale)
        },
        numbers: crate::scale::table(&scale),
        budget: computed
            .uncertainty
            .as_ref()
            .map(|known| BudgetView::of(known, &budget::reported(reference, computed, known))),
        lot: computed
            .lot
            .as_ref()
            .map(|doubt| LotView::of(doubt, |id| limit_name(reference, id))),
        decisions: computed
            .decisions
            .iter()
            .map(|decision| DecisionView::of(reference, decision, computed.lot.as_ref()))
            .collect(),
        caution: uses
            .as_ref()
            .map(|uses| uses.caution.clone())
            .unwrap_or_default(),
        uses: uses.map(use_views).unwrap_or_default(),
    })
}

fn use_views(uses: PermittedUses) -> Vec<UseView> {
    uses.uses
        .into_iter()
        .filter(|one| one.same_as.is_none())
        .map(|one| {
            let (tone, text) = match one.outlook {
                Outlook::Open => (Tone::Good, "may go there"),
                Outlook::OpenWithDoubt => (Tone::Good, "may go there, close to a limit"),
                Outlook::Unsettled => (Tone::Open, "not settled"),
                Outlook::AboveGuidance => (Tone::Open, "above guidance"),
                Outlook::Doubtful => (Tone::Bad, "doubtful"),
                Outlook::Closed => (Tone::Bad, "may not go there"),
            };
            let limits: Vec<String> = one
                .decisions
                .iter()
                .map(|decision| shown(decision.decision.limit_value.ug_per_kg()))
                .collect();
            UseView {
                jurisdiction: one.jurisdiction.to_string(),
                name: one.name,
                outlook: word(tone, text),
                explanation: one.outlook.explanation(),
                limits: limits.join(", "),
            }
        })
        .collect()
}

/// How the number came from its determinations.
fn came_from(result: &ResultVersion) -> Option<String> {
    let computed = &result.computed;
    let replicates = computed.replicates.as_ref()?;
    let kept = computed.concentration?;
    let statistic = match replicates.statistic {
        domain::results::Statistic::Single => return None,
        domain::results::Statistic::Mean => "mean",
        domain::results::Statistic::Median => "median",
    };
    let check = replicates.check.as_ref().map_or_else(String::new, |check| {
        format!(
            "; they span {} µg/kg, the critical range is {} µg/kg (ISO 5725-6)",
            shown(check.range.ug_per_kg()),
            shown(check.critical_range.ug_per_kg())
        )
    });
    Some(format!(
        "The {statistic} of {} determinations, {} µg/kg before rounding{check}.",
        replicates.determinations,
        shown(kept.ug_per_kg())
    ))
}

/// What is due before there is a result, with volumes where a dilution is.
pub(crate) fn due(result: &ResultVersion) -> Option<String> {
    let computed = &result.computed;
    match computed.needs.as_ref()? {
        Needs::Run => Some("A run: none of those recorded can be used.".to_owned()),
        Needs::FurtherDeterminations { further } => Some(format!(
            "{further} more: the replicates are further apart than the critical range."
        )),
        Needs::Dilution => {
            let next = computed.next_dilution.as_ref()?;
            let steps: Vec<String> = next
                .steps
                .iter()
                .map(|step| {
                    format!(
                        "{} µL with {} µL of {}",
                        step.sample_volume_ul, step.diluent_volume_ul, step.diluent
                    )
                })
                .collect();
            let expected = next.expected.map_or_else(String::new, |expected| {
                format!("; about {} µg/kg is expected", shown(expected.ug_per_kg()))
            });
            Some(format!(
                "Dilute the extract ×\u{a0}{}: {}{expected}.",
                next.factor,
                steps.join(", then ")
            ))
        }
    }
}
