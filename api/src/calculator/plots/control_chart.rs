//! Individual values in their order, with centre line and limits.

use super::{
    Plot, at_most,
    axis::Axis,
    field::Field,
    picture::{ACCENT, Anchor, INK, LIMIT, PAPER, Picture, at, beside},
};
use domain::{
    quantity::Number,
    statistics::{
        StatisticsError,
        control::{IndividualsChart, IndividualsInput, individuals_chart},
    },
};
use rust_decimal::Decimal;

const LEFT: i64 = 60;
const RIGHT: i64 = 600;
const TOP: i64 = 16;
const BOTTOM: i64 = 280;

/// Most values of one picture.
const MOST: usize = 1_000;

/// Draws a chart of individual values.
pub(super) fn draw(inputs: &IndividualsInput) -> Result<Plot, StatisticsError> {
    at_most("values", inputs.values.len(), MOST)?;
    let chart = individuals_chart(inputs)?;
    let limits = &chart.individuals;
    let place = |index: usize| Decimal::from(index.saturating_add(1));
    let values = inputs.values.iter().map(|value| value.0);
    let lines = [limits.lower.0, limits.centre.0, limits.upper.0];
    let y = Axis::over(values.chain(lines), (BOTTOM, TOP));
    let count = inputs.values.len();
    let x = Axis::over([Decimal::ONE, Decimal::from(count)], (LEFT, RIGHT));
    let mut picture = Picture::default();
    let field = Field {
        left: LEFT,
        right: RIGHT,
        bottom: BOTTOM,
    };
    field.draw(&mut picture, &x, &y, "number of the value");
    for (name, value, style) in [
        ("upper limit", limits.upper, "stroke-dasharray=\"6 4\""),
        ("centre", limits.centre, ""),
        ("lower limit", limits.lower, "stroke-dasharray=\"6 4\""),
    ] {
        let level = y.place(value.0);
        let colour = if name == "centre" { ACCENT } else { LIMIT };
        let style = format!("stroke=\"{colour}\" stroke-width=\"1.4\" {style}");
        picture.line((at(LEFT), level), (at(RIGHT), level), &style);
        let label = format!("{name} {}", shown(value));
        let beside = (at(RIGHT.saturating_add(8)), beside(level, 4));
        picture.text(beside, Anchor::Start, "", &label);
    }
    let points: Vec<(Decimal, Decimal)> = inputs
        .values
        .iter()
        .enumerate()
        .map(|(index, value)| (x.place(place(index)), y.place(value.0)))
        .collect();
    picture.through(&points, &format!("stroke=\"{INK}\" stroke-width=\"1\""));
    for (index, point) in points.iter().enumerate() {
        let number = index.saturating_add(1);
        if limits.beyond.contains(&number) {
            let corner = (beside(point.0, -5), beside(point.1, -5));
            picture.area(corner, (at(10), at(10)), &format!("fill=\"{LIMIT}\""));
            let label = (point.0, beside(point.1, -9));
            picture.text(
                label,
                Anchor::Middle,
                "font-weight=\"700\"",
                &number.to_string(),
            );
        } else {
            let style = format!("fill=\"{PAPER}\" stroke=\"{INK}\" stroke-width=\"1.2\"");
            picture.dot(*point, 3, &style);
        }
    }
    let description = describe(&chart, count);
    Ok(Plot {
        svg: picture.finish("control-chart", "Control chart", &description, BOTTOM + 44),
        caption: description,
        heads: vec!["Number", "Value", "Moving range", "Beyond a limit"],
        rows: rows(inputs, &chart),
    })
}

fn shown(number: Number) -> String {
    number
        .0
        .round_sf(6)
        .unwrap_or(number.0)
        .normalize()
        .to_string()
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
        shown(limits.centre),
        shown(limits.lower),
        shown(limits.upper)
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
