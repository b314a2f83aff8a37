//! Whether a run that was typed at the bench and one that was exported are one run.
//!
//! Promises one answer for the same facts: the nearest in time, among those whose sample agrees
//! first. Refuses to choose where two are equally near.

use super::fingerprint::FieldDifference;
use super::grouping::ReadableRun;
use super::row::ExportedValue;
use crate::analytes::Analyte;
use crate::id::RunId;
use crate::quantity::{Concentration, Unit};
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
    pub readings: Vec<BenchReading>,
}

/// A reading as it was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BenchReading {
    /// The analyte.
    pub analyte: Analyte,
    /// The value.
    pub value: ExportedValue,
    /// Its unit.
    pub unit: Unit,
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
    for typed in &bench.readings {
        let before = format!("{} {}", typed.value, typed.unit.code());
        let after = exported
            .readings
            .iter()
            .map(|reading| &reading.reading)
            .find(|reading| reading.analyte == typed.analyte);
        match after {
            None => note(typed.analyte.slug().into(), Some(before), None),
            Some(after) if same(typed.value, Some(typed.unit), after.value, after.unit) => {}
            Some(after) => {
                note(
                    typed.analyte.slug().into(),
                    Some(before),
                    Some(shown(after.value, after.unit)),
                );
            }
        }
    }
    for reading in &exported.readings {
        let reading = &reading.reading;
        let typed = |typed: &BenchReading| typed.analyte == reading.analyte;
        if !bench.readings.iter().any(typed) {
            note(
                reading.analyte.slug().into(),
                None,
                Some(shown(reading.value, reading.unit)),
            );
        }
    }
    all
}

fn shown(value: ExportedValue, unit: Option<Unit>) -> String {
    match unit {
        Some(unit) => format!("{value} {}", unit.code()),
        None => value.to_string(),
    }
}

fn same(
    one: ExportedValue,
    one_unit: Option<Unit>,
    other: ExportedValue,
    other_unit: Option<Unit>,
) -> bool {
    let equal = |one, other| {
        let concentration = |number, unit: Option<Unit>| Concentration::new(number, unit?).ok();
        let one = concentration(one, one_unit);
        one.is_some() && one == concentration(other, other_unit)
    };
    match (one, other) {
        (ExportedValue::Number(one), ExportedValue::Number(other))
        | (ExportedValue::Below(one), ExportedValue::Below(other))
        | (ExportedValue::Above(one), ExportedValue::Above(other)) => equal(one, other),
        (ExportedValue::NotDetected, ExportedValue::NotDetected)
        | (ExportedValue::Invalid, ExportedValue::Invalid) => true,
        (
            ExportedValue::Number(_)
            | ExportedValue::Below(_)
            | ExportedValue::Above(_)
            | ExportedValue::NotDetected
            | ExportedValue::Invalid,
            _,
        ) => false,
    }
}
