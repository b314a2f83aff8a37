//! The uncertainty budget of a result, as a table: a row for each line, then the expanded one.
//!
//! Promises the figures that are kept with the result, in the result's unit.

use super::evidence::table;
use super::{Table, column, figures, printed};
use domain::{certificates::CertifiedResult, quantity::Unit};
use rust_decimal::Decimal;

/// A figure in µg/kg, in another unit, with what places it needs.
fn in_unit(ug_per_kg: Decimal, unit: Unit) -> String {
    let shown = ug_per_kg.checked_div(unit.in_ug_per_kg());
    shown.unwrap_or(ug_per_kg).normalize().to_string()
}

/// The budget of a result; none where it has none.
pub(super) fn budget(result: &CertifiedResult) -> Option<Table> {
    let uncertainty = result
        .uncertainty
        .as_ref()
        .filter(|it| !it.budget.is_empty())?;
    let unit = printed(result.unit);
    let mut rows: Vec<Vec<String>> = uncertainty
        .budget
        .iter()
        .map(|line| {
            vec![
                line.source.clone(),
                line.stated.clone(),
                in_unit(line.contribution.ug_per_kg(), result.unit),
                line.share_percent.0.round_dp(1).to_string(),
            ]
        })
        .collect();
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
