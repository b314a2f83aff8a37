//! Whether a run that was typed at the bench and one that was exported are one run.
//!
//! Promises one answer for the same facts: the nearest in time, among those whose sample agrees
//! first. Refuses to choose where two are equally near.

use super::fingerprint::FieldDifference;
use super::grouping::ReadableRun;
use super::row::value_text;
use crate::id::RunId;
use crate::runs::{Reading, ReadingKind};
use crate::time::Moment;

/// A run as it was typed at the bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BenchRun {
    /// The run.
    pub id: RunId,
    /// Serial number of its reader.
    pub reader_serial: String,
    /// Its port.
    pub port: u8,
    /// Code or barcode of its sample.
    pub sample_code: Option<String>,
    /// When it was read.
    pub read_at: Moment,
    /// Lot of its test kit.
    pub kit_lot_code: Option<String>,
    /// What was typed.
    pub readings: Vec<Reading>,
}

/// Which bench run an exported one is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Join {
    /// None: it is a run of its own.
    New,
    /// This one.
    Same(RunId),
    /// Equally near ones: a person has to say which.
    Several(Vec<RunId>),
}

/// Joins an exported run to one typed at the bench: same reader and port, read within the map's
/// tolerance, and the sample equal, or blank on one of the two sides.
///
/// ```
/// use domain::column_maps::ColumnMap;
/// use domain::imports::{group, join, parse, BenchRun, Join};
/// let map: ColumnMap = serde_json::from_str(r#"{
///     "name": "Reader of bay 2", "mode": "row_by_row",
///     "time_zone": "UTC", "time_formats": ["rfc3339"],
///     "columns": {"reader_serial": {"column": "reader"}, "port": {"column": "port"},
///                 "read_at": {"column": "time"}, "sample_code": "sample"},
///     "readings": {"by_column": [{"column": "don", "analyte": "deoxynivalenol",
///                                 "unit": {"fixed": "ug/kg"}}]}
/// }"#)?;
/// let text = "reader,port,time,sample,don\nR-1,1,2026-03-07T13:05:09Z,S-7,620\n";
/// let export = group(parse(text.as_bytes(), &map.check().unwrap()).unwrap());
/// let bench = BenchRun {
///     id: "019ca869-5003-7d46-b59c-6cf85cca57e4".parse().unwrap(),
///     reader_serial: "R-1".into(), port: 1, sample_code: Some("S-7".into()),
///     read_at: "2026-03-07T13:04:00Z".parse().unwrap(),
///     kit_lot_code: None, readings: vec![],
/// };
/// assert_eq!(join(&export.runs[0], &[bench.clone()], 120), Join::Same(bench.id));
/// assert_eq!(join(&export.runs[0], &[bench], 60), Join::New, "69 s apart");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn join(exported: &ReadableRun, bench: &[BenchRun], tolerance_seconds: u32) -> Join {
    let mut nearest: Option<(bool, u64)> = None;
    let mut chosen = Vec::new();
    for candidate in bench {
        let Some(distance) = distance(exported, candidate, tolerance_seconds) else {
            continue;
        };
        match nearest {
            Some(least) if distance > least => {}
            Some(least) if distance == least => chosen.push(candidate.id),
            Some(_) | None => {
                nearest = Some(distance);
                chosen = vec![candidate.id];
            }
        }
    }
    match chosen.as_slice() {
        [] => Join::New,
        [one] => Join::Same(*one),
        _ => Join::Several(chosen),
    }
}

/// How far apart two runs are (a blank sample is further than any time), or nothing where they
/// cannot be one.
fn distance(
    exported: &ReadableRun,
    bench: &BenchRun,
    tolerance_seconds: u32,
) -> Option<(bool, u64)> {
    let run = &exported.run;
    let microseconds = (run.read_at.at.utc() - bench.read_at.utc())
        .num_microseconds()?
        .unsigned_abs();
    let tolerance = u64::from(tolerance_seconds).checked_mul(1_000_000)?;
    let one_is_blank = run.sample_code.is_some() != bench.sample_code.is_some();
    let fits = run.reader_serial == bench.reader_serial
        && run.port == bench.port
        && (one_is_blank || run.sample_code == bench.sample_code)
        && microseconds <= tolerance;
    fits.then_some((one_is_blank, microseconds))
}

/// What the two origins of one run say differently, for the hold that shows both. What one of
/// them leaves blank is no difference, apart from an analyte that only one of them has.
///
/// Values are compared as mass fractions, so that 0.82 mg/kg is 820 µg/kg.
#[must_use]
pub fn differences(bench: &BenchRun, exported: &ReadableRun) -> Vec<FieldDifference> {
    let mut all = Vec::new();
    let mut note = |field: String, recorded: Option<String>, imported: Option<String>| {
        all.push(FieldDifference {
            field,
            recorded,
            imported,
        });
    };
    if let (Some(before), Some(after)) = (&bench.sample_code, &exported.run.sample_code)
        && before != after
    {
        note("sample".into(), Some(before.clone()), Some(after.clone()));
    }
    if let (Some(before), Some(after)) = (&bench.kit_lot_code, &exported.run.kit_lot_code)
        && before != after
    {
        note("kit_lot".into(), Some(before.clone()), Some(after.clone()));
    }
    let read: Vec<&Reading> = exported
        .readings
        .iter()
        .map(|reading| &reading.reading.reading)
        .collect();
    for typed in &bench.readings {
        let after = read.iter().find(|read| read.analyte == typed.analyte);
        if after.is_none_or(|after| !same(typed, after)) {
            note(
                typed.analyte.slug().into(),
                Some(shown(typed)),
                after.map(|after| shown(after)),
            );
        }
    }
    for read in read {
        if !bench
            .readings
            .iter()
            .any(|typed| typed.analyte == read.analyte)
        {
            note(read.analyte.slug().into(), None, Some(shown(read)));
        }
    }
    all
}

fn shown(reading: &Reading) -> String {
    let mut shown = match reading.kind {
        ReadingKind::Number | ReadingKind::Below | ReadingKind::Above => {
            format!("{} {}", value_text(reading), reading.unit.code())
        }
        ReadingKind::NotDetected | ReadingKind::Invalid => value_text(reading),
    };
    if let Some(signals) = reading.signals {
        let lines = [
            ("test line", signals.test_line),
            ("control line", signals.control_line),
        ];
        for (line, signal) in lines {
            if let Some(signal) = signal {
                shown.push_str(&format!(", {line} {signal}"));
            }
        }
    }
    shown
}

/// Signals count where both sides have them.
fn same(one: &Reading, other: &Reading) -> bool {
    let signals_differ = matches!(
        (one.signals, other.signals),
        (Some(one), Some(other)) if one != other
    );
    one.kind == other.kind && one.concentration() == other.concentration() && !signals_differ
}
