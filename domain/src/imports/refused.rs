//! Rows that could not be read as runs: kept with their text and every reason, and mended later.
//!
//! Promises that the text as it came stays beside the text that mended it. Refuses to mend a row
//! twice. Records hold no control characters: line breaks, tabs and the like are written as
//! escapes, see [`escaped`].

use serde::{Deserialize, Serialize};

use super::{FieldDifference, ParsedExport, RowFault, parse};
use crate::analytes::Analyte;
use crate::column_maps::{CheckedColumnMap, ColumnMap, ExportDelimiter, ExportEncoding};
use crate::faults::Faults;
use crate::id::{ImportId, RunId};

/// JSON pointers of what may be personal data or free text in a [`RefusedRow`].
pub const REFUSED_ROW_DISCLOSED: &[&str] = &[
    "/text",
    "/faults/*/value",
    "/faults/*/detail",
    "/contradiction/differences",
    "/mending/text",
];

/// A row that was refused.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RefusedRow {
    /// The import.
    pub import: ImportId,
    /// The line on which it begins, from 1.
    pub line: u64,
    /// Its text as uploaded, control characters escaped (disclosed).
    pub text: String,
    /// Everything wrong with it.
    pub faults: Vec<RowFault>,
    /// What it contradicts, where that is why it was refused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub contradiction: Option<Contradiction>,
    /// How it was mended.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mending: Option<RowMending>,
}

/// What a row contradicts: an earlier row, or what was imported before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Contradiction {
    /// The earlier line of the same export, where it is that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
    /// The run that is recorded, where it is that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<RunId>,
    /// The analyte, where the readings differ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub analyte: Option<Analyte>,
    /// The fields, with both values (disclosed).
    pub differences: Vec<FieldDifference>,
}

/// How a row was mended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct RowMending {
    /// The text that was read in its place, control characters escaped (disclosed).
    pub text: String,
    /// The version of the column map by which it was read.
    pub column_map_version: u32,
    /// The run that it tells.
    pub run: RunId,
}

impl RefusedRow {
    /// A row as it was refused, ready to be recorded.
    ///
    /// ```
    /// use domain::imports::{unescaped, RefusedRow};
    /// let import = "019ca869-5003-7d46-b59c-6cf85cca57e4".parse().unwrap();
    /// let row = RefusedRow::new(import, 7, "R-1\t2\t\"a\nb\"", vec![], None);
    /// assert_eq!(row.text, r#"R-1\t2\t"a\nb""#);
    /// assert_eq!(unescaped(&row.text), "R-1\t2\t\"a\nb\"");
    /// ```
    #[must_use]
    pub fn new(
        import: ImportId,
        line: u64,
        text: &str,
        faults: Vec<RowFault>,
        contradiction: Option<Contradiction>,
    ) -> Self {
        let faults = faults
            .into_iter()
            .map(|fault| RowFault {
                column: escaped(&fault.column),
                value: escaped(&fault.value),
                detail: escaped(&fault.detail),
                code: fault.code,
            })
            .collect();
        Self {
            import,
            line,
            text: escaped(text),
            faults,
            contradiction,
            mending: None,
        }
    }

    /// The row after it was mended.
    ///
    /// # Errors
    /// [`AlreadyMended`], with the run that the first mending told.
    ///
    /// ```
    /// use domain::imports::{RefusedRow, RowMending};
    /// let id = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    /// let row = RefusedRow::new(id.parse().unwrap(), 7, "R-1;x", vec![], None);
    /// let mending = RowMending {
    ///     text: "R-1;2".into(), column_map_version: 1, run: id.parse().unwrap(),
    /// };
    /// let mended = row.mend(mending.clone()).unwrap();
    /// assert_eq!(mended.text, "R-1;x", "what came stays");
    /// assert!(mended.mend(mending).is_err());
    /// ```
    pub fn mend(&self, mending: RowMending) -> Result<Self, AlreadyMended> {
        match &self.mending {
            Some(before) => Err(AlreadyMended(before.run)),
            None => Ok(Self {
                mending: Some(mending),
                ..self.clone()
            }),
        }
    }
}

/// The row was mended before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the row was mended already: it tells run {0}")]
pub struct AlreadyMended(pub RunId);

/// A text without control characters: each is written as an escape, and so is the backslash.
///
/// ```
/// use domain::imports::{escaped, unescaped};
/// assert_eq!(escaped("a\t\\b\u{0}"), r"a\t\\b\u{0}");
/// assert_eq!(unescaped(&escaped("a\t\\b\u{0}\u{85}")), "a\t\\b\u{0}\u{85}");
/// ```
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        if letter == '\\' || letter.is_control() {
            out.extend(letter.escape_default());
        } else {
            out.push(letter);
        }
    }
    out
}

/// The text that [`escaped`] wrote. What is no escape stays as it is.
///
/// ```
/// use domain::imports::unescaped;
/// assert_eq!(unescaped(r"R-1\t2"), "R-1\t2");
/// assert_eq!(unescaped(r"50\%"), r"50\%");
/// ```
#[must_use]
pub fn unescaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\\') {
        out.push_str(before);
        let (letter, left) = escape(after).unwrap_or(('\\', after));
        out.push(letter);
        rest = left;
    }
    out.push_str(rest);
    out
}

fn escape(after: &str) -> Option<(char, &str)> {
    let mut letters = after.chars();
    let letter = match letters.next()? {
        't' => '\t',
        'n' => '\n',
        'r' => '\r',
        '\\' => '\\',
        'u' => {
            let (code, left) = letters.as_str().strip_prefix('{')?.split_once('}')?;
            let letter = u32::from_str_radix(code, 16)
                .ok()
                .and_then(char::from_u32)?;
            return Some((letter, left));
        }
        _ => return None,
    };
    Some((letter, letters.as_str()))
}

/// Reads one row again, under the header row that its export had.
///
/// # Errors
/// Faults at `/text`, where it is not exactly one row, or the map does not fit the header any more.
///
/// ```
/// use domain::column_maps::{ColumnMap, ExportDelimiter};
/// use domain::imports::parse_again;
/// let map: ColumnMap = serde_json::from_str(r#"{
///     "name": "Reader of bay 2", "mode": "row_by_row", "delimiter": "tab",
///     "time_zone": "UTC", "time_formats": ["rfc3339"],
///     "columns": {"reader_serial": {"column": "Reader"}, "port": {"fixed": "1"},
///                 "read_at": {"column": "Time"}},
///     "readings": {"by_column": [{"column": "DON", "analyte": "deoxynivalenol",
///                                 "unit": {"fixed": "ug/kg"}}]}
/// }"#)?;
/// let header = ["Reader", "Time", "DON"].map(String::from);
/// let again = |text: &str| parse_again(&header, ExportDelimiter::Comma, text, &map);
/// let export = again("R-1,2026-03-07T13:05:09Z,620").unwrap();
/// assert!(export.rows[0].outcome.is_ok());
/// assert!(again("R-1,2026-03-07T13:05:09Z,620\nR-1,2026-03-07T13:05:09Z,63").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn parse_again(
    header: &[String],
    delimiter: ExportDelimiter,
    text: &str,
    map: &ColumnMap,
) -> Result<ParsedExport, Faults> {
    let refuse = |detail: String| {
        let mut faults = Faults::default();
        faults.add("/text", detail);
        faults
    };
    let map = ColumnMap {
        delimiter,
        encoding: ExportEncoding::Utf8,
        lines_before_header: 0,
        ..map.clone()
    };
    let map: CheckedColumnMap = map.check()?;
    let mark = match delimiter {
        ExportDelimiter::Semicolon => ";",
        ExportDelimiter::Tab => "\t",
        ExportDelimiter::Comma | ExportDelimiter::Auto => ",",
    };
    let names: Vec<String> = header
        .iter()
        .map(|name| format!("\"{}\"", unescaped(name).replace('"', "\"\"")))
        .collect();
    let whole = format!(
        "{}\n{}\n",
        names.join(mark),
        text.trim_end_matches(['\r', '\n'])
    );
    let export = parse(whole.as_bytes(), &map)
        .map_err(|refusal| refuse(format!("cannot be read: {refusal}")))?;
    if export.rows.len() != 1 {
        let count = export.rows.len();
        return Err(refuse(format!(
            "holds {count} rows: give the one row that is mended"
        )));
    }
    Ok(export)
}
