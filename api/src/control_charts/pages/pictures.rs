//! The pictures of a chart: single values, moving ranges, weighted averages, cumulative sums.

use crate::{
    control_charts::gather::Gathered,
    plots::sequence::{Level, Line, Sequence, Stroke},
};
use domain::{
    control_charts::{AssignedLines, ControlChart},
    quantity::Number,
};
use rust_decimal::Decimal;

/// A picture with what it is and what it shows.
pub(super) struct Picture {
    pub(super) heading: &'static str,
    pub(super) caption: String,
    pub(super) svg: String,
}

/// The pictures that there are figures for.
pub(super) fn pictures(gathered: &Gathered) -> Vec<Picture> {
    let chart = &gathered.chart;
    let places = new_kit_lots(gathered);
    let Some(lines) = chart.lines.as_ref().filter(|_| !chart.points.is_empty()) else {
        return Vec::new();
    };
    let single = single_values(chart, lines, &places);
    let others = [moving_ranges(chart), averages(chart, lines), sums(chart)];
    std::iter::once(single)
        .chain(others.into_iter().flatten())
        .collect()
}

/// Where another kit lot begins than that of the control run before.
fn new_kit_lots(gathered: &Gathered) -> Vec<(usize, String)> {
    let points = &gathered.chart.points;
    let pairs = points.iter().zip(points.iter().skip(1));
    let begins = pairs.filter(|(before, after)| before.kit_lot != after.kit_lot);
    begins
        .map(|(_, after)| {
            let lot = gathered.reference.kit_lots.get(&after.kit_lot.0);
            let code = lot.map(|lot| lot.content.entry.code.clone());
            (after.number, code.unwrap_or_default())
        })
        .collect()
}

/// Four significant figures: more than a strip can tell.
fn short(number: Number) -> Number {
    Number(number.0.round_sf(4).unwrap_or(number.0).normalize())
}

fn said(value: Decimal) -> String {
    short(Number(value)).to_string()
}

fn decimals(numbers: &[Number]) -> Vec<Decimal> {
    numbers.iter().map(|number| number.0).collect()
}

/// Numbers as a sentence lists them.
fn listed(numbers: &[usize]) -> String {
    let words: Vec<String> = numbers.iter().map(usize::to_string).collect();
    words.join(", ")
}

fn beyond(numbers: &[usize], none: &str, some: &str) -> String {
    if numbers.is_empty() {
        format!("{none}.")
    } else {
        format!("{some} {}.", listed(numbers))
    }
}

fn single_values(
    chart: &ControlChart,
    lines: &AssignedLines,
    places: &[(usize, String)],
) -> Picture {
    let values = chart.points.iter().map(|one| one.value.0).collect();
    let completing: Vec<usize> = chart
        .points
        .iter()
        .filter(|one| !one.rules.is_empty())
        .map(|one| one.number)
        .collect();
    let warned = chart.points.iter().filter(|one| one.warning);
    let levels = vec![
        Level::new("+3 s", lines.upper_three, Stroke::Limit),
        Level::new("+2 s", lines.upper_two, Stroke::Warning),
        Level::new("assigned", lines.assigned_value, Stroke::Centre),
        Level::new("−2 s", lines.lower_two, Stroke::Warning),
        Level::new("−3 s", lines.lower_three, Stroke::Limit),
    ];
    let caption = format!(
        "Single control runs in µg/kg about the assigned value of {}, with lines at two and three \
         standard deviations of {}. Filled dots lie beyond two; squares complete a rule. {}",
        said(lines.assigned_value.0),
        said(lines.standard_deviation.0),
        beyond(
            &completing,
            "No rule is completed",
            "A rule is completed at"
        )
    );
    let sequence = Sequence {
        key: "single-values",
        title: "Single control runs",
        description: &caption,
        below: "number of the control run",
        levels,
        lines: vec![Line {
            beyond: completing,
            warned: warned.map(|one| one.number).collect(),
            ..Line::through(values)
        }],
        places: places.to_vec(),
        ..Sequence::default()
    };
    Picture {
        heading: "Single control runs (Shewhart)",
        svg: sequence.draw(),
        caption,
    }
}

fn moving_ranges(chart: &ControlChart) -> Option<Picture> {
    let found = chart.individuals.as_ref()?;
    let ranges = &found.ranges;
    let at: Vec<usize> = ranges
        .beyond
        .iter()
        .map(|at| at.saturating_add(1))
        .collect();
    let caption = format!(
        "Differences of neighbouring control runs, about their mean of {}. By them the control runs \
         themselves would lie between {} and {}, about {}: {} {}",
        said(ranges.centre.0),
        said(found.individuals.lower.0),
        said(found.individuals.upper.0),
        said(found.individuals.centre.0),
        beyond(
            &found.individuals.beyond,
            "none is outside",
            "outside are those numbered"
        ),
        beyond(
            &at,
            "No range is above its limit",
            "Ranges above their limit:"
        )
    );
    let sequence = Sequence {
        key: "moving-ranges",
        title: "Moving ranges",
        description: &caption,
        below: "number of the control run",
        levels: vec![
            Level::new("upper limit", short(ranges.upper), Stroke::Limit),
            Level::new("mean", short(ranges.centre), Stroke::Centre),
        ],
        lines: vec![Line {
            first: 2,
            beyond: at,
            ..Line::through(decimals(&found.moving_ranges))
        }],
        ..Sequence::default()
    };
    Some(Picture {
        heading: "Moving ranges",
        svg: sequence.draw(),
        caption,
    })
}

fn averages(chart: &ControlChart, lines: &AssignedLines) -> Option<Picture> {
    let found = chart.ewma.as_ref()?;
    let caption = format!(
        "Weighted averages about the assigned value, which see small lasting shifts; in the long \
         run their limits are {} and {}. {}",
        said(found.long_run_lower.0),
        said(found.long_run_upper.0),
        beyond(&found.beyond, "None is beyond its limit", "Beyond a limit:")
    );
    let sequence = Sequence {
        key: "averages",
        title: "Weighted averages",
        description: &caption,
        below: "number of the control run",
        levels: vec![Level::new("assigned", lines.assigned_value, Stroke::Centre)],
        bounds: vec![decimals(&found.upper), decimals(&found.lower)],
        lines: vec![Line {
            beyond: found.beyond.clone(),
            ..Line::through(decimals(&found.averages))
        }],
        ..Sequence::default()
    };
    Some(Picture {
        heading: "Weighted averages (EWMA)",
        svg: sequence.draw(),
        caption,
    })
}

fn sums(chart: &ControlChart) -> Option<Picture> {
    let found = chart.cusum.as_ref()?;
    let mut at = found.beyond_high.clone();
    at.extend(found.beyond_low.iter().copied());
    at.sort_unstable();
    at.dedup();
    let caption = format!(
        "Cumulative sums of deviations from the assigned value, less {} each: those above it \
         upward, solid; those below it downward, dashed. A sum beyond {} signals. {}",
        said(found.k.0),
        said(found.h.0),
        beyond(&at, "None does", "Signals at")
    );
    let below: Vec<Decimal> = found.low.iter().map(|sum| -sum.0).collect();
    let sequence = Sequence {
        key: "sums",
        title: "Cumulative sums",
        description: &caption,
        below: "number of the control run",
        levels: vec![
            Level::new("signal", found.h, Stroke::Limit),
            Level::new("", Number(Decimal::ZERO), Stroke::Centre),
            Level::new("signal", Number(-found.h.0), Stroke::Limit),
        ],
        lines: vec![
            Line {
                beyond: found.beyond_high.clone(),
                ..Line::through(decimals(&found.high))
            },
            Line {
                beyond: found.beyond_low.clone(),
                dashed: true,
                ..Line::through(below)
            },
        ],
        ..Sequence::default()
    };
    Some(Picture {
        heading: "Cumulative sums (CUSUM)",
        svg: sequence.draw(),
        caption,
    })
}
