//! What is recorded of an import: which bytes were read by which map, and what became of the rows.
//!
//! Promises that every row is counted once. Holds no row itself: runs cite their lines, and what
//! was refused is kept row by row.

use serde::{Deserialize, Serialize};

use super::ParsedExport;
use crate::column_maps::{ExportDelimiter, ImportMode};
use crate::id::ColumnMapId;

/// An export, as it was imported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ImportedExport {
    /// The map that it was read by.
    pub column_map: ColumnMapId,
    /// Which version of the map.
    pub column_map_version: u32,
    /// SHA-256 of the uploaded bytes, 64 lower-case hex digits.
    pub digest: String,
    /// How many bytes were uploaded.
    pub size_bytes: u64,
    /// Whether one refused row would have refused all.
    pub mode: ImportMode,
    /// The encoding in which it was read.
    pub encoding: String,
    /// The delimiter with which it was read.
    pub delimiter: ExportDelimiter,
    /// The names in its header row.
    pub header: Vec<String>,
    /// What became of its rows.
    pub counts: ImportCounts,
}

/// What became of the rows of an export. `rows` is the sum of `recorded`, `joined`, `added`,
/// `same` and `refused`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct ImportCounts {
    /// Rows that hold something.
    pub rows: u64,
    /// Rows that new runs were recorded from.
    pub recorded: u64,
    /// Rows of runs that had been typed at the bench.
    pub joined: u64,
    /// Rows that told more of a run that was imported before.
    pub added: u64,
    /// Rows that say what was imported before; skipped.
    pub same: u64,
    /// Rows refused and kept for mending.
    pub refused: u64,
    /// Lines with nothing but blank cells; they are no rows.
    pub blank: u64,
    /// New runs.
    pub runs: u64,
    /// Samples registered from rows, under the lots that they name.
    pub samples_registered: u64,
}

impl ParsedExport {
    /// The delimiter in the word of a column map.
    ///
    /// ```
    /// # use domain::{column_maps::{ColumnMap, ExportDelimiter}, imports::parse};
    /// # let map: ColumnMap = serde_json::from_str(r#"{
    /// #     "name": "a", "mode": "row_by_row", "time_zone": "UTC", "time_formats": ["rfc3339"],
    /// #     "columns": {"reader_serial": {"column": "Reader"}, "port": {"fixed": "1"},
    /// #                 "read_at": {"column": "Time"}},
    /// #     "readings": {"by_column": [{"column": "DON", "analyte": "deoxynivalenol",
    /// #                                 "unit": {"fixed": "ug/kg"}}]}
    /// # }"#)?;
    /// let export = parse(b"reader;time;don\n", &map.check().unwrap()).unwrap();
    /// assert_eq!(export.delimiter_word(), ExportDelimiter::Semicolon);
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub const fn delimiter_word(&self) -> ExportDelimiter {
        match self.delimiter {
            ';' => ExportDelimiter::Semicolon,
            '\t' => ExportDelimiter::Tab,
            _ => ExportDelimiter::Comma,
        }
    }
}
