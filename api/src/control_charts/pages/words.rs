//! What a chart comes to, in words and in rows.

use crate::{
    control_charts::{
        Wanted,
        gather::Gathered,
        store::{self, MOST_IN_DOUBT},
    },
    error::{Answer, ApiError},
    pages::{Frame, aligned, analyte, count, escape, plain},
    plots::sequence::shown,
};
use domain::{
    control_charts::{DeviationFrom, MOST_CHARTED},
    quantity::Number,
    time::Moment,
};
use rust_decimal::Decimal;
use std::collections::BTreeSet;
use uuid::Uuid;

/// A control run as a row.
pub(super) struct PointRow {
    pub(super) number: usize,
    pub(super) read_at: String,
    pub(super) sample: String,
    pub(super) sample_href: String,
    pub(super) kit_lot: String,
    pub(super) reader: String,
    pub(super) value: String,
    pub(super) z: String,
    pub(super) range: String,
    pub(super) average: String,
    pub(super) high: String,
    pub(super) low: String,
    pub(super) rules: String,
}

/// A stretch in doubt.
pub(super) struct DoubtItem {
    /// From when to when, where; HTML.
    pub(super) stretch: String,
    /// The control runs that failed, with why; HTML.
    pub(super) failed: Vec<String>,
    /// How many runs lie between.
    pub(super) count: String,
    pub(super) rows: Vec<DoubtRow>,
}

/// A run in doubt as a row.
pub(super) struct DoubtRow {
    pub(super) read_at: String,
    pub(super) sample: String,
    pub(super) sample_href: String,
    pub(super) results: String,
}

/// A control run that is not on the chart.
pub(super) struct LeftOutRow {
    pub(super) read_at: String,
    pub(super) sample: String,
    pub(super) sample_href: String,
    pub(super) why: &'static str,
}

/// Four significant figures: more than a strip can tell.
fn figure(number: Number) -> String {
    let short = number.0.round_sf(4).unwrap_or(number.0);
    short.normalize().to_string()
}

fn signed(number: Number) -> String {
    let text = figure(number);
    if number.0 > Decimal::ZERO {
        format!("+{text}")
    } else {
        text
    }
}

fn many(number: usize) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// The first line.
pub(super) fn answer(gathered: &Gathered, wanted: &Wanted, code: &str) -> String {
    let points = &gathered.chart.points;
    let charted: BTreeSet<_> = points.iter().map(|one| one.run).collect();
    let failed = gathered.doubts.iter().flat_map(|one| &one.stretch.failed);
    let here = failed.filter(|one| {
        charted.contains(&one.run)
            || gathered
                .left_out
                .iter()
                .any(|out| out.control.id == one.run.0)
    });
    let failed = many(here.count());
    let what = analyte(wanted.analyte);
    if failed > 0 {
        return format!(
            "{} of {code} failed for {what}: what lies around {} is in doubt.",
            count(failed, "control run", "control runs"),
            if failed == 1 { "it" } else { "them" }
        );
    }
    if points.is_empty() {
        return format!("No control run of {code} can be charted.");
    }
    let all = count(many(points.len()), "control run", "control runs");
    match (&gathered.chart.found, &gathered.chart.lines) {
        (Some(found), Some(lines)) => format!(
            "{all} of {code} found {} µg/kg {what} on average; {} is assigned. None failed.",
            figure(found.mean),
            shown(lines.assigned_value.0),
        ),
        (None, _) | (_, None) => format!("{all} of {code}, and none failed."),
    }
}

/// What stands below it: where the lines are from, and what is not shown.
pub(super) fn evidence(gathered: &Gathered, wanted: &Wanted) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(lines) = &gathered.chart.lines {
        let from = match lines.deviation_from {
            DeviationFrom::Stated => "which the material states",
            DeviationFrom::Window => "a quarter of the material's window",
        };
        let settings = &wanted.settings;
        said.push(format!(
            "Control runs are judged about the assigned value by a standard deviation of {} µg/kg, \
             {from}; the limits of moving ranges come from the control runs themselves. The \
             weighted average gives a new value the weight {}, with limits at {} of its standard \
             deviations; the cumulative sums take {} standard deviations off each deviation and \
             signal above {}.",
            shown(lines.standard_deviation.0),
            settings.lambda,
            settings.ewma_width,
            settings.cusum_k,
            settings.cusum_h
        ));
    }
    let most = many(MOST_CHARTED);
    if gathered.in_period > most {
        said.push(format!(
            "The period has {} control runs: the newest {most} are shown. Choose a shorter period \
             for older ones.",
            gathered.in_period
        ));
    }
    said
}

/// The control runs.
pub(super) fn points(frame: &Frame, gathered: &Gathered) -> Vec<PointRow> {
    let chart = &gathered.chart;
    let column = |cells: Vec<String>| aligned(&cells);
    let each = |figures: Option<&Vec<Number>>, skipped: usize| {
        let blank = std::iter::repeat_n(String::new(), skipped);
        let figures = figures.into_iter().flatten().map(|one| figure(*one));
        column(blank.chain(figures).collect())
    };
    let values = column(
        chart
            .points
            .iter()
            .map(|one| one.value.to_string())
            .collect(),
    );
    let z = chart
        .points
        .iter()
        .map(|one| one.z.0.round_dp(2).to_string());
    let z = column(z.collect());
    let ranges = each(chart.individuals.as_ref().map(|one| &one.moving_ranges), 1);
    let averages = each(chart.ewma.as_ref().map(|one| &one.averages), 0);
    let high = each(chart.cusum.as_ref().map(|one| &one.high), 0);
    let low = each(chart.cusum.as_ref().map(|one| &one.low), 0);
    let at = |column: &[String], place: usize| column.get(place).cloned().unwrap_or_default();
    let rows = chart.points.iter().enumerate().map(|(place, one)| {
        let (sample, sample_href) = sample_of(frame, gathered, one.run.0);
        let reference = &gathered.reference;
        let kit_lot = reference.kit_lots.get(&one.kit_lot.0);
        let reader = reference.readers.get(&one.reader.0);
        let mut rules: Vec<&str> = one.rules.iter().map(|done| done.rule.word()).collect();
        if one.warning {
            rules.insert(0, "1-2s (warns)");
        }
        PointRow {
            number: one.number,
            read_at: frame.moment(one.read_at),
            sample,
            sample_href,
            kit_lot: kit_lot.map_or_else(String::new, |lot| lot.content.entry.code.clone()),
            reader: reader.map_or_else(String::new, |reader| reader.content.serial.clone()),
            value: at(&values, place),
            z: at(&z, place),
            range: at(&ranges, place),
            average: at(&averages, place),
            high: at(&high, place),
            low: at(&low, place),
            rules: rules.join(", "),
        }
    });
    rows.collect()
}

fn sample_of(frame: &Frame, gathered: &Gathered, run: Uuid) -> (String, String) {
    let control = gathered.controls.get(&run);
    control.map_or_else(Default::default, |control| {
        let href = frame.at(&format!("samples/{}", control.sample));
        (control.sample_code.clone(), href)
    })
}

/// What was found.
pub(super) fn facts(gathered: &Gathered) -> Vec<(&'static str, String)> {
    let Some(found) = &gathered.chart.found else {
        return Vec::new();
    };
    let [low, high] = found.bias.interval;
    let mut facts = vec![
        ("Control runs", found.determinations.to_string()),
        ("Mean found", format!("{} µg/kg", figure(found.mean))),
        (
            "Standard deviation",
            format!("{} µg/kg", figure(found.standard_deviation)),
        ),
        (
            "Bias",
            format!(
                "{} µg/kg; 95 % interval {} to {} µg/kg",
                signed(found.bias.bias),
                signed(low),
                signed(high)
            ),
        ),
    ];
    match (found.standard_uncertainty, &found.relative) {
        (Some(doubt), relative) => {
            let judged = relative.as_ref().map_or_else(String::new, |relative| {
                let percent = Number(
                    relative
                        .relative_bias
                        .0
                        .checked_mul(Decimal::ONE_HUNDRED)
                        .unwrap_or_default(),
                );
                let verdict = if relative.significant {
                    "more than twice its uncertainty: it differs from none"
                } else {
                    "not more than twice its uncertainty: it does not differ from none"
                };
                format!(". The bias is {} %, {verdict}", signed(percent))
            });
            facts.push((
                "Standard uncertainty of the bias",
                format!(
                    "{} µg/kg, with that of the assigned value{judged}",
                    figure(doubt)
                ),
            ));
        }
        (None, _) => facts.push((
            "Standard uncertainty of the bias",
            "not known: the material states no uncertainty of its assigned value".to_owned(),
        )),
    }
    facts
}

/// The bias as a procedure states it.
pub(super) fn for_procedure(gathered: &Gathered) -> Answer<String> {
    let found = gathered.chart.found.as_ref();
    let shown = found.and_then(|found| found.for_procedure.as_ref());
    let shown = shown.map(serde_json::to_string).transpose();
    Ok(shown.map_err(ApiError::internal)?.unwrap_or_default())
}

/// What failed control runs put in doubt.
pub(super) fn doubts(frame: &Frame, gathered: &Gathered) -> Vec<DoubtItem> {
    let each = gathered.doubts.iter().map(|doubt| {
        let stretch = &doubt.stretch;
        let reference = &gathered.reference;
        let kit_lot = reference.kit_lots.get(&stretch.kit_lot.0);
        let reader = reference.readers.get(&stretch.reader.0);
        let end = |passed: Option<Moment>, none: &str| {
            passed.map_or_else(|| none.to_owned(), |at| frame.moment(at))
        };
        let after = end(stretch.after.map(|one| one.read_at), "the beginning");
        let before = end(stretch.before.map(|one| one.read_at), "now");
        let runs = doubt.rows.first().map_or(0, |row| row.runs);
        let mut count = count(runs, "run lies between", "runs lie between");
        if runs > many(MOST_IN_DOUBT) {
            count = format!("{count}; the first {MOST_IN_DOUBT} are listed");
        }
        DoubtItem {
            stretch: format!(
                "From {after} to {before}, kit lot {}, reader {}",
                escape(kit_lot.map_or("", |lot| lot.content.entry.code.as_str())),
                escape(reader.map_or("", |reader| reader.content.serial.as_str()))
            ),
            failed: stretch
                .failed
                .iter()
                .map(|one| {
                    let why = escape(&one.failed_by.join("; "));
                    format!(
                        "the control run read at {}: {why}",
                        frame.moment(one.read_at)
                    )
                })
                .collect(),
            count,
            rows: in_doubt(frame, &doubt.rows),
        }
    });
    each.collect()
}

fn in_doubt(frame: &Frame, rows: &[store::DoubtRow]) -> Vec<DoubtRow> {
    let mut found: Vec<DoubtRow> = Vec::new();
    let mut last = None;
    for row in rows {
        let state = row.result_state.as_deref().map(plain);
        if last == Some(row.run_id) {
            if let (Some(before), Some(state)) = (found.last_mut(), state) {
                before.results = format!("{}, {state}", before.results);
            }
            continue;
        }
        last = Some(row.run_id);
        let sample = row.sample_id.zip(row.sample_code.clone());
        let (href, code) = sample.map_or_else(
            || (String::new(), "of no sample yet".to_owned()),
            |(id, code)| (frame.at(&format!("samples/{id}")), code),
        );
        found.push(DoubtRow {
            read_at: frame.moment(row.read_at.into()),
            sample: code,
            sample_href: href,
            results: state.unwrap_or_else(|| "none".to_owned()),
        });
    }
    found
}

/// The control runs that are not on the chart.
pub(super) fn left_out(frame: &Frame, gathered: &Gathered) -> Vec<LeftOutRow> {
    let each = gathered.left_out.iter().map(|one| LeftOutRow {
        read_at: one
            .control
            .run
            .entry
            .read_at
            .map_or_else(String::new, |at| frame.moment(at)),
        sample: one.control.sample_code.clone(),
        sample_href: frame.at(&format!("samples/{}", one.control.sample)),
        why: one.why.words(),
    });
    each.collect()
}

/// What could not be computed, a sentence each.
pub(super) fn not_computed(gathered: &Gathered) -> Vec<String> {
    let each = gathered.chart.not_computed.iter();
    each.map(|one| format!("No {}: {}.", one.what, one.why))
        .collect()
}
