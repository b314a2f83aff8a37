//! Individual values in their order, with centre line and limits.

use super::{
    Plot, at_most,
    sequence::{Level, Line, Sequence, Stroke, shown},
};
use domain::{
    quantity::Number,
    statistics::{
        StatisticsError,
        control::{IndividualsChart, IndividualsInput, individuals_chart},
    },
};
use rust_decimal::Decimal;

/// Most values of one picture.
const MOST: usize = 1_000;

/// Draws a chart of individual values.
pub(crate) fn draw(inputs: &IndividualsInput) -> Result<Plot, StatisticsError> {
    at_most("values", inputs.values.len(), MOST)?;
    let chart = individuals_chart(inputs)?;
    let limits = &chart.individuals;
    let values: Vec<Decimal> = inputs.values.iter().map(|value| value.0).collect();
    let description = describe(&chart, values.len());
    let svg = Sequence {
        key: "control-chart",
        title: "Control chart",
        description: &description,
        levels: vec![
            Level::new("upper limit", limits.upper, Stroke::Limit),
            Level::new("centre", limits.centre, Stroke::Centre),
            Level::new("lower limit", limits.lower, Stroke::Limit),
        ],
        lines: vec![Line {
            beyond: limits.beyond.clone(),
            ..Line::through(values)
        }],
        ..Sequence::default()
    }
    .draw();
    Ok(Plot {
        svg,
        caption: description,
        heads: vec!["Number", "Value", "Moving range", "Beyond a limit"],
        rows: rows(inputs, &chart),
    })
}

fn describe(chart: &IndividualsChart, count: usize) -> String {
    let limits = &chart.individuals;
    let beyond: Vec<String> = limits.beyond.iter().map(usize::to_string).collect();
    let beyond = if beyond.is_empty() {
        "None is beyond a limit.".to_owned()
    } else {
        format!("Beyond a limit: {}.", beyond.join(", "))
    };
    format!(
        "{count} values about a centre of {}, limits {} and {}. {beyond}",
        shown(limits.centre.0),
        shown(limits.lower.0),
        shown(limits.upper.0)
    )
}

fn rows(inputs: &IndividualsInput, chart: &IndividualsChart) -> Vec<Vec<String>> {
    // The first values have no range: there is one fewer for each value of its span.
    let without = inputs
        .values
        .len()
        .saturating_sub(chart.moving_ranges.len());
    let row = |(index, value): (usize, &Number)| {
        let number = index.saturating_add(1);
        let range = index.checked_sub(without);
        let range = range.and_then(|index| chart.moving_ranges.get(index));
        let beyond = chart.individuals.beyond.contains(&number);
        vec![
            number.to_string(),
            value.to_string(),
            range.map_or_else(String::new, Number::to_string),
            if beyond { "yes" } else { "no" }.to_owned(),
        ]
    };
    inputs.values.iter().enumerate().map(row).collect()
}
