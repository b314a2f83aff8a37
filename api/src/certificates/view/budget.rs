//! The uncertainty budget of a result, as a table: a row for each line, then the expanded one; and
//! that of the lot where it is asked for, or why there is none.
//!
//! Promises the figures that are kept with the result, in the result's unit.

use super::evidence::table;
use super::{Table, column, figures, joined, printed};
use domain::{certificates::CertifiedResult, quantity::Unit, results::KeptBudgetLine};
use rust_decimal::Decimal;

/// A figure in µg/kg, in another unit, with what places it needs.
fn in_unit(ug_per_kg: Decimal, unit: Unit) -> String {
    let shown = ug_per_kg.checked_div(unit.in_ug_per_kg());
    shown.unwrap_or(ug_per_kg).normalize().to_string()
}

fn rows(lines: &[KeptBudgetLine], unit: Unit) -> Vec<Vec<String>> {
    let rows = lines.iter().map(|line| {
        vec![
            line.source.clone(),
            line.stated.clone(),
            in_unit(line.contribution.ug_per_kg(), unit),
            line.share_percent.0.round_dp(1).to_string(),
        ]
    });
    rows.collect()
}

/// The doubt of the lot; none where the order does not ask for it.
pub(super) fn of_lot(result: &CertifiedResult) -> Option<Table> {
    let doubt = result.lot_doubt.as_ref()?;
    let masses = doubt.masses();
    let masses = Some(masses.as_str()).filter(|masses| !masses.is_empty());
    let about = joined([Some(doubt.model.as_str()), masses], "; ");
    let bare = |source: &str, words: String, value: String| {
        vec![source.to_owned(), words, value, String::new()]
    };
    let mut shown = vec![bare(
        "model",
        format!("{about}. {}", doubt.source),
        String::new(),
    )];
    if let Some(budget) = &doubt.budget {
        shown.extend(rows(&budget.lines, result.unit));
        shown.push(bare(
            &format!("expanded, k = {}", budget.coverage_factor),
            "analysis, preparation and sampling together; no decision looks at it".to_owned(),
            in_unit(budget.expanded.ug_per_kg(), result.unit),
        ));
    }
    if let Some(before) = &doubt.before {
        let words = format!("before this result: {before}");
        shown.push(bare("chances of the lot", words, String::new()));
    }
    if let Some(why) = &doubt.declined {
        shown.push(bare("no budget", why.clone(), String::new()));
    }
    let columns = vec![
        column("Doubt of the lot", 4),
        column("Evidence", 6),
        figures(&format!("Standard, {}", printed(result.unit)), 2),
        figures("Share, %", 1),
    ];
    Some(table(columns, shown, ""))
}

/// The budget of a result; none where it has none.
pub(super) fn budget(result: &CertifiedResult) -> Option<Table> {
    let uncertainty = result
        .uncertainty
        .as_ref()
        .filter(|it| !it.budget.is_empty())?;
    let unit = printed(result.unit);
    let mut rows = rows(&uncertainty.budget, result.unit);
    let expanded = format!("expanded, k = {}", uncertainty.coverage_factor);
    rows.push(vec![
        expanded,
        uncertainty.covers.clone(),
        uncertainty.expanded.normalize().to_string(),
        String::new(),
    ]);
    let columns = vec![
        column("Uncertainty", 4),
        column("Evidence", 6),
        figures(&format!("Standard, {unit}"), 2),
        figures("Share, %", 1),
    ];
    Some(table(columns, rows, ""))
}
