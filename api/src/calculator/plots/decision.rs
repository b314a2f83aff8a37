//! Findings beside a limit: where each lies, how sure it is, and what is said of it.

use crate::plots::{
    Plot, at_most,
    axis::Axis,
    picture::{ACCENT, Anchor, INK, LIMIT, Picture, QUIET, at, beside, width_of},
};
use domain::{
    decisions::{
        Finding,
        calculated::{DecidedFinding, DecisionInputs, UncertainFinding, decide_findings},
    },
    statistics::StatisticsError,
};
use rust_decimal::Decimal;

const LEFT: i64 = 24;
const RIGHT: i64 = 500;
const TOP: i64 = 34;
const ROW: i64 = 26;

/// Most findings of one picture.
const MOST: usize = 40;

/// A number or a bound, and to which side the bound is open.
fn figure(finding: Finding) -> (Decimal, i64) {
    let (at, open) = match finding {
        Finding::Quantified { value } => (value, 0),
        Finding::NotDetected { below: bound } | Finding::Below { bound } => (bound, -1),
        Finding::DetectedBelow { loq, .. } => (loq, -1),
        Finding::Above { bound } => (bound, 1),
    };
    (at.ug_per_kg(), open)
}

fn half_width(one: &UncertainFinding) -> Option<Decimal> {
    one.uncertainty.map(|known| known.expanded.ug_per_kg())
}

fn sum(one: Decimal, other: Decimal) -> Decimal {
    one.checked_add(other).unwrap_or(one)
}

/// Draws findings decided against a limit.
pub(super) fn draw(inputs: &DecisionInputs) -> Result<Plot, StatisticsError> {
    at_most("findings", inputs.findings.len(), MOST)?;
    let decided = decide_findings(inputs)?;
    let cuts: Vec<Decimal> = decided
        .iter()
        .flat_map(|one| one.zones.iter().map(|zone| zone.up_to.0))
        .collect();
    let reaches = inputs.findings.iter().flat_map(|one| {
        let (value, _) = figure(one.finding);
        let half = half_width(one).unwrap_or_default();
        let low = value.checked_sub(half).unwrap_or(value);
        [low.max(Decimal::ZERO), sum(value, half)]
    });
    let axis = Axis::over(
        reaches.chain(cuts.iter().copied()).chain([inputs.limit.0]),
        (LEFT, RIGHT),
    );
    let count = i64::try_from(inputs.findings.len()).unwrap_or(i64::MAX);
    let foot = TOP
        .saturating_add(ROW.saturating_mul(count))
        .saturating_add(8);
    let mut picture = Picture::default();
    bar(&mut picture, inputs, &cuts, &axis, foot);
    let mut y = TOP.saturating_add(16);
    for (one, said) in inputs.findings.iter().zip(&decided) {
        mark(&mut picture, one, &axis, at(y));
        let beside = (at(RIGHT.saturating_add(14)), at(y.saturating_add(4)));
        picture.text(
            beside,
            Anchor::Start,
            "font-weight=\"700\"",
            &said.statement,
        );
        y = y.saturating_add(ROW);
    }
    let description = describe(inputs, &decided);
    Ok(Plot {
        svg: picture.finish(
            "decision",
            "Decisions against a limit",
            &description,
            foot.saturating_add(42),
        ),
        caption: description,
        heads: vec![
            "Finding",
            "Expanded uncertainty, µg/kg",
            "Statement",
            "Guard band, µg/kg",
            "Probability of conformity",
        ],
        rows: inputs.findings.iter().zip(&decided).map(row).collect(),
    })
}

/// The axis, the limit, where statements change, and the band between them.
fn bar(picture: &mut Picture, inputs: &DecisionInputs, cuts: &[Decimal], axis: &Axis, foot: i64) {
    let limit = inputs.limit.0;
    let around = || cuts.iter().copied().chain([limit]);
    let (low, high) = (
        around().min().unwrap_or(limit),
        around().max().unwrap_or(limit),
    );
    let (from, to) = (axis.place(low), axis.place(high));
    let high = at(foot.saturating_sub(TOP));
    let hatched = "fill=\"url(#decision-hatch)\"";
    picture.area((from, at(TOP)), (width_of(from, to), high), hatched);
    for cut in cuts {
        let x = axis.place(*cut);
        let style = format!("stroke=\"{LIMIT}\" stroke-width=\"0.8\" stroke-dasharray=\"3 3\"");
        picture.line((x, at(TOP)), (x, at(foot)), &style);
    }
    let style = format!("stroke=\"{INK}\"");
    picture.line((at(LEFT), at(foot)), (at(RIGHT), at(foot)), &style);
    for tick in &axis.ticks {
        let x = axis.place(*tick);
        picture.line((x, at(foot)), (x, at(foot.saturating_add(5))), &style);
        let label = (x, at(foot.saturating_add(18)));
        picture.text(label, Anchor::Middle, "", &tick.to_string());
    }
    let x = axis.place(limit);
    let style = format!("stroke=\"{LIMIT}\" stroke-width=\"1.8\"");
    picture.line((x, at(TOP.saturating_sub(8))), (x, at(foot)), &style);
    let label = (x, at(TOP.saturating_sub(14)));
    picture.text(label, Anchor::Middle, "", &format!("limit {limit} µg/kg"));
    let unit = (at(RIGHT), at(foot.saturating_add(36)));
    picture.text(unit, Anchor::End, "font-style=\"italic\"", "µg/kg");
}

/// A finding: a filled dot with its uncertainty as a bar, a bound as an open dot with an arrow.
fn mark(picture: &mut Picture, one: &UncertainFinding, axis: &Axis, y: Decimal) {
    let (value, open) = figure(one.finding);
    let x = axis.place(value);
    let guide = format!("stroke=\"{QUIET}\" stroke-width=\"0.6\"");
    picture.line((at(LEFT), y), (at(RIGHT), y), &guide);
    if open == 0 {
        if let Some(half) = half_width(one) {
            let low = axis.place(value.checked_sub(half).unwrap_or(value));
            let high = axis.place(sum(value, half));
            let style = format!("stroke=\"{ACCENT}\" stroke-width=\"2.2\"");
            picture.line((low, y), (high, y), &style);
            for end in [low, high] {
                picture.line((end, beside(y, -5)), (end, beside(y, 5)), &style);
            }
        }
        picture.dot((x, y), 5, &format!("fill=\"{ACCENT}\""));
        return;
    }
    let style = format!("stroke=\"{INK}\" stroke-width=\"1.4\"");
    let tip = beside(x, open.saturating_mul(26));
    let barb = beside(x, open.saturating_mul(20));
    picture.through(&[(x, y), (tip, y)], &style);
    picture.through(
        &[(barb, beside(y, -4)), (tip, y), (barb, beside(y, 4))],
        &style,
    );
    picture.dot((x, y), 4, &format!("fill=\"#fbfaf6\" {style}"));
}

fn describe(inputs: &DecisionInputs, decided: &[DecidedFinding]) -> String {
    let said: Vec<String> = inputs
        .findings
        .iter()
        .zip(decided)
        .take(6)
        .map(|(one, said)| format!("{}: {}", one.finding, said.statement))
        .collect();
    let more = match decided.len().checked_sub(said.len()) {
        Some(more) if more > 0 => format!("; and {more} more"),
        _ => String::new(),
    };
    format!(
        "Against a limit of {} µg/kg: {}{more}.",
        inputs.limit,
        said.join("; ")
    )
}

fn row((one, said): (&UncertainFinding, &DecidedFinding)) -> Vec<String> {
    vec![
        one.finding.to_string(),
        half_width(one).map_or_else(String::new, |half| half.to_string()),
        said.statement.clone(),
        said.guard_band
            .map_or_else(String::new, |band| band.to_string()),
        said.probability_of_conformity
            .map_or_else(String::new, |chance| chance.to_string()),
    ]
}
