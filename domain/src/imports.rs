//! Imports: from the bytes of a reader's export to runs that can be recorded.
//!
//! Promises that every row is accounted for: read, blank, or refused with the column, the value
//! and what to do. What can be read as a run is read: a blank sample, an unknown kit lot or a
//! clock that is ahead is no fault here. Refuses exports that were cut off, that are written in
//! another encoding, or that lack the mapped columns; and rows that name no reader, port or time,
//! or whose numbers and units cannot be taken as they stand.

mod decoding;
mod entry;
mod export;
mod fingerprint;
mod grouping;
mod header;
mod joining;
mod layout;
mod numbers;
mod reading_cells;
mod records;
mod refused;
mod row;
mod row_reader;
mod times;
mod units;

#[cfg(test)]
mod tests;

use crate::column_maps::{CheckedColumnMap, ColumnMap, ExtraColumns, ImportMode};

pub use export::{ImportCounts, ImportedExport};
pub use fingerprint::{Comparison, FieldDifference, Fingerprint, compare};
pub use grouping::{
    ConflictingRow, FaultyRow, GroupedExport, ReadableRun, RepeatedReading, RunReading, group,
};
pub use joining::{BenchRun, Join, differences, join};
pub use records::{Record, RecordFault, Records, records};
pub use refused::{
    AlreadyMended, Contradiction, REFUSED_ROW_DISCLOSED, RefusedRow, RowMending, escaped,
    parse_again, unescaped,
};
pub use row::{
    ControlLine, ExportedReading, ExportedRun, FaultCode, ReadableRow, RowFault, SourceTime,
    StatedVolumes, value_text,
};
pub use units::{MassUnit, mass_unit};

/// An export, read row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParsedExport {
    /// Whether one faulty row refuses all of them.
    pub mode: ImportMode,
    /// The encoding in which it was read.
    pub encoding: &'static str,
    /// The delimiter with which it was read.
    pub delimiter: char,
    /// The names in the header row.
    pub header: Vec<String>,
    /// The rows, in order.
    pub rows: Vec<RowOutcome>,
    /// Lines of records that hold nothing but blank cells; they are no rows.
    pub blank_lines: Vec<u64>,
}

/// What became of one row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowOutcome {
    /// The physical line on which the row begins, from 1.
    pub line: u64,
    /// Its text as uploaded, without its line break.
    pub raw: String,
    /// The run that can be read from it, or every fault.
    pub outcome: Result<Box<ReadableRow>, Vec<RowFault>>,
}

/// Why an export cannot be read at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ExportRefusal {
    /// There is nothing in it.
    #[error("the export is empty: it has no header row")]
    Empty,
    /// The bytes are no text of the encoding.
    #[error("{detail}")]
    WrongEncoding {
        /// What was found, and what to do.
        detail: String,
    },
    /// The upload ends in the middle of a row.
    #[error("line {line}: the export ends in the middle of a row ({detail}); upload it whole")]
    Truncated {
        /// Where the last row begins.
        line: u64,
        /// How it was noticed.
        detail: String,
    },
    /// The header row itself breaks the rules of quoting.
    #[error("line {line}: the header row cannot be read: {fault}")]
    UnreadableHeader {
        /// Where it begins.
        line: u64,
        /// What is wrong with it.
        fault: RecordFault,
    },
    /// Mapped columns are missing.
    #[error(
        "the export has no column {}; it has {}. Choose the map of this reader, or correct it",
        quoted(missing),
        quoted(found)
    )]
    MissingColumns {
        /// All mapped names that the header row lacks.
        missing: Vec<String>,
        /// All names that it has.
        found: Vec<String>,
    },
    /// Names stand in the header row twice.
    #[error(
        "the header row has {} more than once, so that its columns cannot be told apart",
        quoted(names)
    )]
    DuplicateColumns {
        /// The names.
        names: Vec<String>,
    },
    /// Columns that the map does not name, and that it says to refuse.
    #[error(
        "the map does not name the column {}, and says that such columns are refused",
        quoted(names)
    )]
    ExtraColumns {
        /// The names.
        names: Vec<String>,
    },
}

fn quoted(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    quoted.join(", ")
}

/// Reads an export by a map. Takes any bytes; one pass, rows independent of each other.
///
/// # Errors
/// An [`ExportRefusal`] where the export as a whole cannot be read; faults of single rows stand
/// with the rows.
///
/// ```
/// use domain::column_maps::ColumnMap;
/// use domain::imports::{parse, ExportRefusal};
/// let map: ColumnMap = serde_json::from_str(r#"{
///     "name": "Reader of bay 2", "mode": "row_by_row", "decimal_mark": "comma",
///     "time_zone": "Europe/Vienna", "time_formats": ["%d.%m.%Y %H:%M:%S"],
///     "columns": {"reader_serial": {"column": "Reader"}, "port": {"column": "Port"},
///                 "read_at": {"column": "Time"}, "sample_code": "Sample"},
///     "readings": {"by_row": {"analyte": {"fixed": "deoxynivalenol"}, "value": "Result",
///                             "unit": {"column": "Unit"}}}
/// }"#)?;
/// let map = map.check().unwrap();
/// let export = parse(
///     "Reader;Port;Time;Sample;Result;Unit\r\nR-1;2;07.03.2026 14:05:09;;0,82;mg/kg\r\n"
///         .as_bytes(),
///     &map,
/// ).unwrap();
/// let row = export.rows[0].outcome.as_ref().unwrap();
/// assert_eq!(row.run.read_at.at.to_string(), "2026-03-07T13:05:09.000000Z");
/// assert_eq!(row.run.sample_code, None);
/// assert!(matches!(parse(b"Port;Time\r\n", &map), Err(ExportRefusal::MissingColumns { .. })));
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn parse(bytes: &[u8], map: &CheckedColumnMap) -> Result<ParsedExport, ExportRefusal> {
    let (text, encoding) = decoding::decode(bytes, map.map().encoding)?;
    let start = header::start(&text, map.map())?;
    let layout = layout::layout(&start.names, map.map())?;
    if map.map().extra_columns == ExtraColumns::Reject && !layout.extra.is_empty() {
        return Err(ExportRefusal::ExtraColumns {
            names: layout.extra.clone(),
        });
    }
    let mut export = ParsedExport {
        mode: map.map().mode,
        encoding,
        delimiter: char::from(start.delimiter),
        header: start.names.clone(),
        rows: Vec::new(),
        blank_lines: Vec::new(),
    };
    for record in start.rows {
        if let Some(refusal) = truncated(&record, start.names.len()) {
            return Err(refusal);
        }
        let outcome = match record.fields {
            Err(fault) => Err(vec![RowFault::of_record(&fault)]),
            Ok(fields) if fields.iter().all(|field| field.trim().is_empty()) => {
                export.blank_lines.push(record.line);
                continue;
            }
            Ok(fields) if fields.len() != start.names.len() => {
                Err(vec![RowFault::of_width(fields.len(), start.names.len())])
            }
            Ok(fields) => row_reader::read(&fields, &layout, map).map(Box::new),
        };
        export.rows.push(RowOutcome {
            line: record.line,
            raw: record.raw.to_owned(),
            outcome,
        });
    }
    Ok(export)
}

/// Only the last record can have an open quote, or lack its line break.
fn truncated(record: &Record<'_>, width: usize) -> Option<ExportRefusal> {
    let detail = match &record.fields {
        Err(RecordFault::OpenQuote) => "a quote that is opened there is never closed".to_owned(),
        Ok(fields) if !record.ended && fields.len() < width => format!(
            "its last row has {} of {width} fields and no line break",
            fields.len()
        ),
        Ok(_) | Err(RecordFault::StrayQuote | RecordFault::TextAfterQuote) => return None,
    };
    Some(ExportRefusal::Truncated {
        line: record.line,
        detail,
    })
}

/// A name or word as it is compared: without outer spaces and without regard to case.
pub(crate) fn fold(text: &str) -> String {
    text.trim().to_lowercase()
}

/// Whether the map could read the export's header row, for choosing among several maps.
///
/// # Errors
/// What [`parse`] would refuse before the first row.
///
/// ```
/// # use domain::{column_maps::ColumnMap, imports::fits};
/// # let map: ColumnMap = serde_json::from_str(r#"{
/// #     "name": "a", "mode": "row_by_row", "time_zone": "UTC", "time_formats": ["rfc3339"],
/// #     "columns": {"reader_serial": {"column": "Reader"}, "port": {"fixed": "1"},
/// #                 "read_at": {"column": "Time"}},
/// #     "readings": {"by_column": [{"column": "DON", "analyte": "deoxynivalenol",
/// #                                 "unit": {"fixed": "ug/kg"}}]}
/// # }"#)?;
/// assert!(fits(b"reader,time,don\n", &map).is_ok());
/// assert!(fits(b"reader,time,zon\n", &map).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn fits(bytes: &[u8], map: &ColumnMap) -> Result<(), ExportRefusal> {
    let (text, _) = decoding::decode(bytes, map.encoding)?;
    let start = header::start(&text, map)?;
    layout::layout(&start.names, map).map(drop)
}
