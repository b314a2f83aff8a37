//! The uncertainty of a result as a page shows it, line by line.
//!
//! Promises the figures that are kept with the result; rounds them for the eye alone.

use crate::{
    pages::{capital, shown},
    results::Reference,
};
use domain::{
    quantity::Number,
    results::{ComputedResult, LimitChance, LotDoubt, UncertaintyPlace},
};
use rust_decimal::Decimal;

/// An expanded uncertainty with what it is made of.
pub(crate) struct BudgetView {
    /// The expanded uncertainty as it is reported, with its factor.
    pub expanded: String,
    /// The combined standard uncertainty, µg/kg, at three figures.
    pub combined: String,
    /// A row for each line; empty where none are kept.
    pub lines: Vec<BudgetRow>,
}

/// A line of the budget, as a row.
pub(crate) struct BudgetRow {
    /// Where it comes from.
    pub source: String,
    /// What it was computed from.
    pub stated: String,
    /// Its standard uncertainty in the result, µg/kg, at three figures.
    pub contribution: String,
    /// Its share of the variance, in percent.
    pub share: String,
}

impl BudgetView {
    pub(super) fn of(known: &UncertaintyPlace, reported: &str) -> Self {
        let expanded = known.expanded.ug_per_kg();
        let factor = known.coverage_factor.0;
        let lines = known.lines.iter().map(|line| BudgetRow {
            source: line.source.clone(),
            stated: line.stated.clone(),
            contribution: figures(line.contribution.ug_per_kg(), 3),
            share: shown(line.share_percent.0.round_dp(1)),
        });
        Self {
            expanded: format!("±\u{a0}{reported}\u{a0}µg/kg, k = {factor}"),
            combined: expanded
                .checked_div(factor)
                .map_or_else(String::new, |combined| figures(combined, 3)),
            lines: lines.collect(),
        }
    }
}

/// The doubt of the lot beside a result.
pub(crate) struct LotView {
    /// The model, what it was applied to, and where it comes from.
    pub model: String,
    /// The budget with sampling and preparation, where the model gives one.
    pub budget: Option<BudgetView>,
    /// Why there is none; empty where there is.
    pub declined: String,
    /// What was taken to be known of lots before; empty where no chance is stated.
    pub before: String,
    /// For each limit of the decisions: its name, and how likely the lot is above it, or why that
    /// is not known.
    pub chances: Vec<(String, String)>,
}

impl LotView {
    pub(super) fn of(doubt: &LotDoubt, limit: impl Fn(&str) -> String) -> Self {
        let masses = doubt.masses();
        let about = [doubt.model.as_str(), masses.as_str(), doubt.source.as_str()];
        let about: Vec<&str> = about.into_iter().filter(|text| !text.is_empty()).collect();
        let chance = |chance: &LimitChance| {
            let name = format!(
                "{} {}\u{a0}µg/kg",
                limit(&chance.limit),
                shown(chance.limit_value.ug_per_kg())
            );
            let likely = chance.probability_above.and_then(percent);
            let why = || chance.declined.clone().unwrap_or_default();
            (name, likely.unwrap_or_else(why))
        };
        Self {
            model: capital(&about.join("; ")),
            budget: doubt
                .budget
                .as_ref()
                .map(|known| BudgetView::of(known, &figures(known.expanded.ug_per_kg(), 2))),
            declined: doubt.declined.clone().unwrap_or_default(),
            before: doubt.before.clone().unwrap_or_default(),
            chances: doubt.chances.iter().map(chance).collect(),
        }
    }
}

/// A probability in percent, to one place, never said to be certain.
pub(super) fn percent(probability: Number) -> Option<String> {
    let percent = probability.0.checked_mul(Decimal::ONE_HUNDRED)?.round_dp(1);
    let (least, most) = (Decimal::new(1, 1), Decimal::new(999, 1));
    Some(if percent > most {
        "over\u{a0}99.9\u{a0}%".to_owned()
    } else if percent < least {
        "under\u{a0}0.1\u{a0}%".to_owned()
    } else {
        format!("{percent}\u{a0}%")
    })
}

/// An expanded uncertainty as it is reported: rounded as the value is, by the procedure's rule; at
/// two figures where there is none (JCGM 100:2008, 7.2.6).
pub(super) fn reported(
    reference: &Reference,
    computed: &ComputedResult,
    known: &UncertaintyPlace,
) -> String {
    let expanded = known.expanded.ug_per_kg();
    let rounded = computed
        .procedure
        .and_then(|used| reference.procedures.get(&used.id.0))
        .and_then(|procedure| procedure.content.entry.rounding.apply(expanded).ok());
    rounded.map_or_else(|| figures(expanded, 2), |rounded| rounded.to_string())
}

fn figures(value: Decimal, figures: u32) -> String {
    shown(value.round_sf(figures).unwrap_or(value))
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn an_uncertainty_is_shown_as_reported_and_its_lines_at_three_figures() {
        let known = serde_json::from_str(
            r#"{"expanded":"1.874460","coverage_factor":"2","lines":[{"source":"dilution",
                "stated":"100 and 500","contribution":"0.619677","share_percent":"43.716941"}]}"#,
        )
        .unwrap();
        let view = BudgetView::of(&known, "1.9");
        assert_eq!(view.expanded, "±\u{a0}1.9\u{a0}µg/kg, k = 2");
        assert_eq!(view.combined, "0.937");
        let line = view.lines.first().unwrap();
        assert_eq!(
            (line.contribution.as_str(), line.share.as_str()),
            ("0.62", "43.7")
        );
    }
}
