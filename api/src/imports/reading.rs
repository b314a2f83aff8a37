//! From uploaded bytes to runs that can be decided on, off the threads that serve requests.
//!
//! Promises that what is read depends on the bytes and the version of the map alone.

use crate::{
    error::{Answer, ApiError},
    kept::Kept,
};
use actix_web::web;
use domain::{
    column_maps::ColumnMap,
    faults::Faults,
    id::ColumnMapId,
    imports::{ExportRefusal, GroupedExport, ImportedExport, ParsedExport, escaped, group, parse},
};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// An export as it was uploaded and read.
pub(super) struct Export {
    /// The bytes as they came.
    pub(super) bytes: web::Bytes,
    /// What the sender called them.
    pub(super) media_type: String,
    /// The map that they were read by.
    pub(super) map: Kept<ColumnMap>,
    /// What is recorded of the import, its rows not yet counted.
    pub(super) about: ImportedExport,
    /// The runs, or why it cannot be read at all.
    pub(super) grouped: Result<GroupedExport, ExportRefusal>,
}

/// SHA-256 of bytes, 64 lower-case hex digits.
pub(super) fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// Reads an upload by a map.
///
/// # Errors
/// [`ApiError::Invalid`] where the map itself is no longer one; [`ApiError::Internal`].
pub(super) async fn read(
    bytes: web::Bytes,
    media_type: String,
    map: Kept<ColumnMap>,
) -> Answer<Export> {
    web::block(move || read_here(bytes, media_type, map))
        .await
        .map_err(ApiError::internal)?
}

fn read_here(bytes: web::Bytes, media_type: String, map: Kept<ColumnMap>) -> Answer<Export> {
    let checked = map.content.clone().check()?;
    let parsed = parse(&bytes, &checked);
    let about = about(&bytes, map.id, map.version, parsed.as_ref().ok());
    Ok(Export {
        grouped: parsed.map(group),
        bytes,
        media_type,
        map,
        about,
    })
}

fn about(bytes: &[u8], map: Uuid, version: i32, parsed: Option<&ParsedExport>) -> ImportedExport {
    let count = |many: usize| u64::try_from(many).unwrap_or(u64::MAX);
    let mut counts = domain::imports::ImportCounts::default();
    if let Some(parsed) = parsed {
        counts.rows = count(parsed.rows.len());
        counts.blank = count(parsed.blank_lines.len());
    }
    ImportedExport {
        column_map: ColumnMapId(map),
        column_map_version: u32::try_from(version).unwrap_or(1),
        digest: digest(bytes),
        size_bytes: count(bytes.len()),
        mode: parsed.map_or(domain::column_maps::ImportMode::RowByRow, |one| one.mode),
        encoding: parsed.map_or_else(String::new, |one| one.encoding.to_owned()),
        delimiter: parsed.map_or(
            domain::column_maps::ExportDelimiter::Auto,
            ParsedExport::delimiter_word,
        ),
        header: parsed.map_or_else(Vec::new, |one| {
            one.header.iter().map(|name| escaped(name)).collect()
        }),
        counts,
    }
}

/// The texts of some lines, read again from the upload: few rows are refused after they were read.
///
/// # Errors
/// [`ApiError::Internal`].
pub(super) async fn texts(export: &Export, lines: BTreeSet<u64>) -> Answer<HashMap<u64, String>> {
    if lines.is_empty() {
        return Ok(HashMap::new());
    }
    let (bytes, map) = (export.bytes.clone(), export.map.content.clone());
    web::block(move || {
        let parsed = parse(&bytes, &map.check()?).map_err(ApiError::internal)?;
        Ok(parsed
            .rows
            .into_iter()
            .filter(|row| lines.contains(&row.line))
            .map(|row| (row.line, row.raw))
            .collect())
    })
    .await
    .map_err(ApiError::internal)?
}

/// The refusal of an export that cannot be read at all.
pub(super) fn refusal(refused: &ExportRefusal) -> ApiError {
    let mut faults = Faults::default();
    let pointer = match refused {
        ExportRefusal::Truncated { line, .. } | ExportRefusal::UnreadableHeader { line, .. } => {
            format!("/rows/{line}")
        }
        ExportRefusal::Empty
        | ExportRefusal::WrongEncoding { .. }
        | ExportRefusal::MissingColumns { .. }
        | ExportRefusal::DuplicateColumns { .. }
        | ExportRefusal::ExtraColumns { .. } => String::new(),
    };
    faults.add(pointer, format!("The export was refused: {refused}."));
    ApiError::Invalid(faults)
}
