//! The header row: which delimiter, and which names.
//!
//! Promises the delimiter under which the header row holds the most mapped columns. Refuses an
//! export without a header row, or one whose header row breaks the rules of quoting.

use super::ExportRefusal;
use super::layout::layout;
use super::records::{Records, records};
use crate::column_maps::{ColumnMap, ExportDelimiter};

/// The header row, and the rows that follow it.
pub(super) struct Start<'a> {
    pub(super) delimiter: u8,
    pub(super) names: Vec<String>,
    pub(super) rows: Records<'a>,
}

/// Finds the header row and the delimiter.
pub(super) fn start<'a>(text: &'a str, map: &ColumnMap) -> Result<Start<'a>, ExportRefusal> {
    let mut lines = records(text, b',');
    for _ in 0..map.lines_before_header {
        lines.skip_line();
    }
    let mut candidates: &[u8] = match map.delimiter {
        ExportDelimiter::Comma => b",",
        ExportDelimiter::Semicolon => b";",
        ExportDelimiter::Tab => b"\t",
        ExportDelimiter::Auto => b",;\t",
    };
    // Spreadsheets write the delimiter that they used on a line of its own: `sep=;`.
    let mut after = lines.clone();
    let first = after.next().ok_or(ExportRefusal::Empty)?;
    if let Some((head, stated)) = first.raw.as_bytes().split_at_checked(4)
        && head.eq_ignore_ascii_case(b"sep=")
        && let [b',' | b';' | b'\t'] = stated
    {
        lines = after;
        if candidates.len() > 1 {
            candidates = stated;
        }
    }
    let mut best = None;
    for &delimiter in candidates {
        let start = header(lines.with_delimiter(delimiter), delimiter)?;
        let missing = match layout(&start.names, map) {
            Err(ExportRefusal::MissingColumns { missing, .. }) => missing.len(),
            Ok(_) | Err(_) => 0,
        };
        let wider_first = usize::MAX - start.names.len();
        if best
            .as_ref()
            .is_none_or(|(least, _)| (missing, wider_first) < *least)
        {
            best = Some(((missing, wider_first), start));
        }
    }
    best.map(|(_, start)| start).ok_or(ExportRefusal::Empty)
}

fn header(mut rows: Records<'_>, delimiter: u8) -> Result<Start<'_>, ExportRefusal> {
    let record = rows.next().ok_or(ExportRefusal::Empty)?;
    match record.fields {
        Ok(fields) => Ok(Start {
            delimiter,
            names: fields.iter().map(|field| field.trim().to_owned()).collect(),
            rows,
        }),
        Err(fault) => Err(ExportRefusal::UnreadableHeader {
            line: record.line,
            fault,
        }),
    }
}
