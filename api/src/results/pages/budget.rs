//! The uncertainty of a result as a page shows it, line by line.
//!
//! Promises the figures that are kept with the result; rounds them for the eye alone.

use crate::{pages::shown, results::Reference};
use domain::results::{ComputedResult, UncertaintyPlace};
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
