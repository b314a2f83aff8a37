//! A budget as bars: what each line contributes to the combined uncertainty.

use crate::plots::{
    Plot,
    axis::Axis,
    picture::{ACCENT, Anchor, INK, Picture, QUIET, at, beside, short, width_of},
};
use domain::{
    quantity::Number,
    statistics::StatisticsError,
    uncertainty::budget::{BudgetInputs, ComputedBudget, budget},
};
use rust_decimal::Decimal;

const LEFT: i64 = 210;
const RIGHT: i64 = 560;
const TOP: i64 = 14;
const ROW: i64 = 24;

fn shown(number: Number) -> String {
    number
        .0
        .round_sf(4)
        .unwrap_or(number.0)
        .normalize()
        .to_string()
}

/// A bar a line, and one for all together.
fn bars(picture: &mut Picture, found: &ComputedBudget, combined: Number, axis: &Axis, foot: i64) {
    for tick in &axis.ticks {
        let x = axis.place(*tick);
        picture.line((x, at(TOP)), (x, at(foot)), &format!("stroke=\"{QUIET}\""));
        let label = (x, at(foot.saturating_add(16)));
        picture.text(label, Anchor::Middle, "", &tick.to_string());
    }
    let bars = found.lines.iter().map(|line| {
        let (length, share) = (shown(line.contribution), shown(line.share_percent));
        let note = format!("{length} ({share} %)");
        (line.source.as_str(), line.contribution, note, false)
    });
    let total = ("together, u", combined, shown(combined), true);
    let mut y = TOP;
    for (name, length, note, whole) in bars.chain([total]) {
        let middle = at(y.saturating_add(16));
        let end = axis.place(length.0);
        let (colour, weight) = if whole {
            (INK, "font-weight=\"700\"")
        } else {
            (ACCENT, "")
        };
        let wide = width_of(at(LEFT), end);
        let corner = (at(LEFT), at(y.saturating_add(5)));
        picture.area(corner, (wide, at(14)), &format!("fill=\"{colour}\""));
        let name = short(name, 30);
        picture.text((beside(at(LEFT), -8), middle), Anchor::End, weight, &name);
        picture.text((beside(end, 6), middle), Anchor::Start, weight, &note);
        y = y.saturating_add(ROW);
    }
    let style = format!("stroke=\"{INK}\"");
    picture.line((at(LEFT), at(TOP)), (at(LEFT), at(foot)), &style);
}

/// Draws a budget of named lines.
pub(super) fn draw(inputs: &BudgetInputs) -> Result<Plot, StatisticsError> {
    let found = budget(inputs)?;
    let combined = found.combined_with_second_order.unwrap_or(found.combined);
    let widest = found.lines.iter().map(|line| line.contribution.0);
    let axis = Axis::over(widest.chain([combined.0, Decimal::ZERO]), (LEFT, RIGHT));
    let count = i64::try_from(found.lines.len()).unwrap_or(i64::MAX);
    let rows = ROW.saturating_mul(count.saturating_add(1));
    let foot = TOP.saturating_add(rows).saturating_add(8);
    let mut picture = Picture::default();
    bars(&mut picture, &found, combined, &axis, foot);
    let largest = found.lines.iter().max_by_key(|line| line.contribution.0);
    let largest = largest.map_or_else(String::new, |line| {
        format!(" The largest line is {}.", line.source)
    });
    let description = format!(
        "{count} lines come to a combined standard uncertainty of {}.{largest}",
        shown(combined)
    );
    let rows = found.lines.iter().map(|line| {
        vec![
            line.source.clone(),
            line.stated.clone(),
            line.contribution.to_string(),
            line.share_percent.to_string(),
        ]
    });
    let rows = rows.chain([vec![
        "together, u".to_owned(),
        String::new(),
        combined.to_string(),
        String::new(),
    ]]);
    Ok(Plot {
        svg: picture.finish(
            "budget",
            "Uncertainty budget",
            &description,
            foot.saturating_add(28),
        ),
        caption: description,
        heads: vec!["Line", "Stated", "Contribution", "Share of the variance, %"],
        rows: rows.collect(),
    })
}
