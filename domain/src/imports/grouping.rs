//! From rows to runs: rows of one identity are one run, with one reading an analyte.
//!
//! Promises that every row of the export ends up in a run, as a repetition, or as refused.
//! Refuses a row that says something else of a run or a reading that an earlier row has told
//! already: a reader cannot have read two things at once.

use std::collections::HashMap;

use super::fingerprint::{Comparison, FieldDifference, Fingerprint, compare, run_differences};
use super::row::{ControlLine, ExportedReading, ExportedRun, ReadableRow, RowFault};
use super::{ParsedExport, RowOutcome};
use crate::analytes::Analyte;
use crate::column_maps::ImportMode;

/// A run as the export tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadableRun {
    /// What identifies it: the map's identity fields as canonical JSON.
    pub identity: String,
    /// The lines that tell it, in order.
    pub lines: Vec<u64>,
    /// What they say of the run.
    pub run: ExportedRun,
    /// Its readings, one an analyte.
    pub readings: Vec<RunReading>,
}

/// A reading, and the line that it stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunReading {
    /// The line.
    pub line: u64,
    /// The reading.
    pub reading: ExportedReading,
    /// Whether the control line appeared, where the row says.
    pub control_line: Option<ControlLine>,
    /// Free text of the row.
    pub comment: Option<String>,
    /// The mapped fields, for comparing with later imports.
    pub fingerprint: Fingerprint,
}

/// A reading that stands in the export again, all fields equal: skipped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepeatedReading {
    /// Where it stands again.
    pub line: u64,
    /// Where it stood first.
    pub first_line: u64,
    /// Of which analyte.
    pub analyte: Analyte,
}

/// A row that contradicts an earlier one of the same run: refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConflictingRow {
    /// Where it stands.
    pub line: u64,
    /// The line that it contradicts.
    pub first_line: u64,
    /// Its text as uploaded.
    pub raw: String,
    /// The analyte, where the readings differ; absent where the rows differ on the run.
    pub analyte: Option<Analyte>,
    /// The fields, with both values.
    pub differences: Vec<FieldDifference>,
}

/// A row that cannot be read: refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FaultyRow {
    /// Where it stands.
    pub line: u64,
    /// Its text as uploaded.
    pub raw: String,
    /// Everything wrong with it.
    pub faults: Vec<RowFault>,
}

/// An export as runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GroupedExport {
    /// Whether one refused row refuses all.
    pub mode: ImportMode,
    /// The runs, in the order of their first lines.
    pub runs: Vec<ReadableRun>,
    /// Readings skipped.
    pub repeated: Vec<RepeatedReading>,
    /// Rows refused since they contradict earlier ones.
    pub conflicting: Vec<ConflictingRow>,
    /// Rows refused since they cannot be read.
    pub faulty: Vec<FaultyRow>,
}

impl GroupedExport {
    /// The runs that the map's mode lets be recorded: none of an all-or-nothing export with a
    /// refused row.
    #[must_use]
    pub fn recordable(&self) -> &[ReadableRun] {
        match self.mode {
            ImportMode::RowByRow => &self.runs,
            ImportMode::AllOrNothing if self.conflicting.is_empty() && self.faulty.is_empty() => {
                &self.runs
            }
            ImportMode::AllOrNothing => &[],
        }
    }
}

/// Groups the rows of an export into runs.
///
/// ```
/// use domain::column_maps::ColumnMap;
/// use domain::imports::{group, parse};
/// let map: ColumnMap = serde_json::from_str(r#"{
///     "name": "Reader of bay 2", "mode": "row_by_row",
///     "time_zone": "UTC", "time_formats": ["rfc3339"],
///     "columns": {"reader_serial": {"column": "reader"}, "port": {"column": "port"},
///                 "read_at": {"column": "time"}},
///     "readings": {"by_row": {"analyte": {"column": "test"}, "value": "value",
///                             "unit": {"fixed": "ug/kg"}}}
/// }"#)?;
/// let text = "reader,port,time,test,value\n\
///     R-1,1,2026-03-07T13:05:09Z,deoxynivalenol,620\n\
///     R-1,1,2026-03-07T13:05:09Z,zearalenone,52\n\
///     R-1,1,2026-03-07T13:05:09Z,zearalenone,52\n\
///     R-1,1,2026-03-07T13:05:09Z,zearalenone,25\n";
/// let export = group(parse(text.as_bytes(), &map.check().unwrap()).unwrap());
/// assert_eq!((export.runs.len(), export.runs[0].readings.len()), (1, 2));
/// assert_eq!(export.repeated[0].line, 4);
/// assert_eq!(export.conflicting[0].differences[0].recorded.as_deref(), Some("52"));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[must_use]
pub fn group(export: ParsedExport) -> GroupedExport {
    let mut grouped = GroupedExport {
        mode: export.mode,
        runs: Vec::new(),
        repeated: Vec::new(),
        conflicting: Vec::new(),
        faulty: Vec::new(),
    };
    let mut places: HashMap<String, usize> = HashMap::new();
    for RowOutcome { line, raw, outcome } in export.rows {
        let row = match outcome {
            Ok(row) => *row,
            Err(faults) => {
                grouped.faulty.push(FaultyRow { line, raw, faults });
                continue;
            }
        };
        let place = places.get(&row.identity).copied();
        match place.and_then(|place| grouped.runs.get_mut(place)) {
            None => {
                places.insert(row.identity.clone(), grouped.runs.len());
                grouped.runs.push(first(line, row));
            }
            Some(run) => match meet(run, line, row) {
                Ok(repeated) => grouped.repeated.extend(repeated),
                Err((first_line, analyte, differences)) => {
                    grouped.conflicting.push(ConflictingRow {
                        line,
                        first_line,
                        raw,
                        analyte,
                        differences,
                    });
                }
            },
        }
    }
    grouped
}

fn of_row(line: u64, row: &ReadableRow, reading: ExportedReading) -> RunReading {
    RunReading {
        line,
        control_line: row.control_line,
        comment: row.comment.clone(),
        fingerprint: Fingerprint::of(row, &reading),
        reading,
    }
}

fn first(line: u64, mut row: ReadableRow) -> ReadableRun {
    let readings = std::mem::take(&mut row.readings);
    let readings = readings
        .into_iter()
        .map(|reading| of_row(line, &row, reading))
        .collect();
    ReadableRun {
        identity: row.identity,
        lines: vec![line],
        run: row.run,
        readings,
    }
}

type Contradiction = (u64, Option<Analyte>, Vec<FieldDifference>);

/// Adds a row to its run, whole or not at all.
fn meet(
    run: &mut ReadableRun,
    line: u64,
    mut row: ReadableRow,
) -> Result<Vec<RepeatedReading>, Contradiction> {
    if run.run != row.run {
        let differences = run_differences(&run.run, &row.run);
        if !differences.is_empty() {
            let first_line = run.lines.first().copied().unwrap_or(line);
            return Err((first_line, None, differences));
        }
    }
    let (mut repeated, mut new) = (Vec::new(), Vec::new());
    for reading in std::mem::take(&mut row.readings) {
        let reading = of_row(line, &row, reading);
        let analyte = reading.reading.reading.analyte;
        let known = run
            .readings
            .iter()
            .find(|known| known.reading.reading.analyte == analyte);
        let Some(known) = known else {
            new.push(reading);
            continue;
        };
        let before = &known.fingerprint;
        match compare(&before.open, Some(&before.personal), &reading.fingerprint) {
            Comparison::Same => repeated.push(RepeatedReading {
                line,
                first_line: known.line,
                analyte,
            }),
            Comparison::Conflict(differences) => {
                return Err((known.line, Some(analyte), differences));
            }
        }
    }
    if !new.is_empty() {
        run.lines.push(line);
        run.readings.extend(new);
    }
    Ok(repeated)
}
