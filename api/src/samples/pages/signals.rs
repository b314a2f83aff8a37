//! The signals of a result's runs, and what they come to beside the reader's own numbers.
//!
//! Promises a row for each reading with signals; without a curve of its kit lot the row says so.

use crate::{
    pages::{Frame, aligned, shown},
    results::{
        Dossier, Reference,
        pages::{port, read_out},
    },
    runs::signal_checks,
};
use domain::{
    quantity::Number,
    results::ResultVersion,
    runs::{Reading, ReadingKind, Run},
    signals::{FromSignals, SignalCheck},
};

/// A reading with signals, as a row.
pub(super) struct SignalView {
    /// When it was read, as HTML.
    pub(super) read_at: String,
    /// Reader and port.
    pub(super) port: String,
    /// The signal of the test line, aligned; empty where it is not known.
    pub(super) test_line: String,
    /// The signal of the control line, aligned; empty where it is not known.
    pub(super) control_line: String,
    /// The response that the curve is of, aligned; empty without one.
    pub(super) response: String,
    /// What the signals give, in µg/kg, aligned, or in words.
    pub(super) found: String,
    /// What places and tolerance leave possible.
    pub(super) range: String,
    /// The reader's own answer, before the factor or with it.
    pub(super) own: String,
    /// Whether both agree, in words.
    pub(super) agreement: &'static str,
    /// Whether they do not.
    pub(super) disagrees: bool,
}

/// The readings of a result that have signals, in the order they were read.
pub(super) fn of_result(
    frame: &Frame,
    reference: &Reference,
    dossier: &Dossier,
    result: &ResultVersion,
) -> Vec<SignalView> {
    let analyte = result.computed.analyte;
    let used = result.computed.runs.iter();
    let mut rows: Vec<SignalView> = used
        .filter_map(|used| {
            let kept = dossier.runs.iter().find(|run| run.id == used.run.0)?;
            let run = &kept.content;
            let reading = run.reading_of(analyte)?;
            let checks = signal_checks(reference, run);
            let check = checks.into_iter().find(|one| one.analyte == analyte);
            row(frame, reference, run, reading, check)
        })
        .collect();
    align(&mut rows, |row| &mut row.test_line);
    align(&mut rows, |row| &mut row.control_line);
    align(&mut rows, |row| &mut row.response);
    align(&mut rows, |row| &mut row.found);
    rows
}

fn align(rows: &mut [SignalView], figure: impl Fn(&mut SignalView) -> &mut String) {
    let column: Vec<String> = rows.iter_mut().map(|row| figure(row).clone()).collect();
    for (row, aligned) in rows.iter_mut().zip(aligned(&column)) {
        *figure(row) = aligned;
    }
}

fn row(
    frame: &Frame,
    reference: &Reference,
    run: &Run,
    reading: &Reading,
    check: Option<SignalCheck>,
) -> Option<SignalView> {
    let signals = reading.signals?;
    let written = |number: Option<Number>| number.map_or_else(String::new, |one| one.to_string());
    let read_at = run.entry.read_at.map(|at| frame.moment(at));
    let own = if run.entry.value_includes_factor && !run.factor.is_one() {
        format!("{}, × {} included", read_out(reading), run.factor)
    } else {
        read_out(reading)
    };
    Some(SignalView {
        read_at: read_at.unwrap_or_default(),
        port: port(reference, run),
        test_line: written(signals.test_line),
        control_line: written(signals.control_line),
        response: written(check.and_then(|one| one.response)),
        found: check.map_or_else(String::new, found),
        range: check.map_or_else(String::new, range),
        own,
        agreement: match check {
            Some(check) if check.agrees => "agrees",
            Some(_) => "disagrees",
            None if reading.kind == ReadingKind::Invalid => "not compared: the reading is invalid",
            None => "not compared: the kit lot has no curve for it, or a signal is missing",
        },
        disagrees: check.is_some_and(|one| !one.agrees),
    })
}

fn found(check: SignalCheck) -> String {
    match check.from_signals {
        FromSignals::Number { value } => shown(value.ug_per_kg()),
        FromSignals::BelowCurve => "below the curve".to_owned(),
        FromSignals::AboveCurve => "above the curve".to_owned(),
        FromSignals::NoRatio => "no ratio".to_owned(),
    }
}

fn range(check: SignalCheck) -> String {
    match (check.least, check.most) {
        (Some(least), Some(most)) => format!(
            "{} to {}",
            shown(least.ug_per_kg()),
            shown(most.ug_per_kg())
        ),
        (Some(least), None) => format!("{} or more", shown(least.ug_per_kg())),
        (None, _) => String::new(),
    }
}
