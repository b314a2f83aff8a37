//! Mends a row that an import refused: its corrected text is read by the same map, under the same
//! header, and recorded as a run of that import and line.
//!
//! Promises that the text as it came stays beside the corrected one. Refuses a row that was mended
//! already, and a text that still cannot be read.

use super::{
    reading::Export,
    recording::{Progress, RowOutcome, take},
    store,
    wire::{RefusedRowView, RowHoldView},
};
use crate::{
    column_maps,
    db::Tx,
    error::{Answer, ApiError, Problem},
    holds,
    identity::{Action, Actor, Lab},
    kept::Kept,
    request::{BODY_LIMIT_BYTES, Data, Once, read_bytes},
};
use actix_web::{HttpRequest, HttpResponse, post, web};
use domain::{
    column_maps::ColumnMap,
    faults::Faults,
    id::{ImportId, RunId},
    imports::{GroupedExport, ImportedExport, RowMending, escaped, group, parse_again, unescaped},
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

/// The corrected text of a row.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MendRow {
    /// The row as it should have been, in the dialect of its export.
    pub text: String,
}

/// A mended row, and the run that it tells.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct MendedRowView {
    /// The row.
    #[serde(flatten)]
    pub row: RefusedRowView,
    /// What became of it.
    pub outcome: RowOutcome,
    /// What holds the run.
    pub holds: Vec<RowHoldView>,
}

/// Which row of which import.
#[derive(Debug, Deserialize)]
pub(crate) struct RowPath {
    id: Uuid,
    line: u64,
}

/// Mend row
///
/// The text is read by the newest version of the map that the import was read by.
#[utoipa::path(tag = "imports",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ImportId, Path, description = "Import"),
        ("line" = u64, Path, description = "Line on which the row begins"),
        ("Idempotency-Key" = String, Header, description = "A random value of your own, the same when you repeat the request")),
    request_body(content = MendRow, example = json!({"text": "R-1;2;07.03.2026 14:05:09;S-0007;AF-2601;820;ppb"})),
    responses((status = 200, body = MendedRowView), (status = "4XX", body = Problem)))]
#[post("/v1/laboratories/{lab}/imports/{id}/rows/{line}/mending")]
pub(super) async fn mend_row(
    actor: Actor,
    lab: Lab,
    path: web::Path<RowPath>,
    once: Once,
    request: HttpRequest,
    payload: web::Payload,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::MendRow, &lab)?;
    let bytes = read_bytes(&request, payload.into_inner(), BODY_LIMIT_BYTES).await?;
    let body = read_body(&bytes)?;
    let fingerprint = Sha256::digest(&bytes).into();
    app.db
        .act(&permit, &once, fingerprint, async |tx| {
            mend(tx, ImportId(path.id), path.line, &body.text).await
        })
        .await
}

/// A row holds tabs and line breaks as its export does, so that the rule of other texts, which
/// have none, is not asked here; what is read from it is held to that rule.
fn read_body(bytes: &[u8]) -> Answer<MendRow> {
    let value = domain::ledger::strict_json::read(bytes).map_err(|fault| {
        ApiError::Malformed(format!("The body is no acceptable JSON: {fault}. Mend it."))
    })?;
    serde_json::from_value(value).map_err(|fault| {
        ApiError::field(
            "",
            format!("The body cannot be taken: {fault}. Send {{\"text\": \"…\"}}."),
        )
    })
}

async fn mend(
    tx: &mut Tx,
    import: ImportId,
    line: u64,
    text: &str,
) -> Answer<(i32, MendedRowView)> {
    let about = store::find(tx, import.0).await?.content;
    let before = store::rows::lock_line(tx, import.0, line).await?;
    if let Some(mending) = &before.content.mending {
        return Err(ApiError::refused(
            "row-mended",
            format!(
                "The row was mended already: it tells run {}. Correct the run where it is wrong.",
                mending.run
            ),
        ));
    }
    let map = column_maps::store::find(tx, about.column_map.0).await?;
    let grouped = read_again(&about, &map, line, text)?;
    let export = Export {
        bytes: web::Bytes::new(),
        media_type: String::new(),
        about,
        grouped: Ok(GroupedExport {
            runs: Vec::new(),
            ..grouped.clone()
        }),
        map,
    };
    let mut progress = Progress::of(import, &export.about.digest);
    take(tx, &mut progress, &export, &grouped.runs).await?;
    let (outcome, run) = told(&progress, line)?;
    let mending = RowMending {
        text: escaped(text),
        column_map_version: u32::try_from(export.map.version).unwrap_or(1),
        run,
    };
    let content = before.content.mend(mending).map_err(ApiError::internal)?;
    let after = before.next(tx, content);
    store::rows::save(tx, &after).await?;
    store::add_fingerprints(tx, import.0, progress.fingerprints()).await?;
    let holds = holds::store::of_subjects(tx, &[run.0]).await?;
    let view = MendedRowView {
        row: RefusedRowView::from(after.content),
        outcome,
        holds: holds
            .iter()
            .filter(|hold| hold.content.lifted.is_none())
            .map(|hold| RowHoldView::from(&hold.content))
            .collect(),
    };
    Ok((after.version, view))
}

/// The one run that the text tells, as if it stood on the row's line.
pub(super) fn read_again(
    about: &ImportedExport,
    map: &Kept<ColumnMap>,
    line: u64,
    text: &str,
) -> Answer<GroupedExport> {
    let parsed = parse_again(&about.header, about.delimiter, text, &map.content)?;
    let mut grouped = group(parsed);
    let mut faults = Faults::default();
    for one in grouped.faulty.iter().flat_map(|row| &row.faults) {
        let column = unescaped(&one.column);
        let detail = match (column.as_str(), one.value.as_str()) {
            ("", _) => format!("The row still cannot be read: {}.", one.detail),
            (column, value) => format!("Column \"{column}\", value \"{value}\": {}.", one.detail),
        };
        faults.add("/text", detail);
    }
    faults.into_result()?;
    for run in &mut grouped.runs {
        run.lines = vec![line];
        for reading in &mut run.readings {
            reading.line = line;
        }
    }
    Ok(grouped)
}

/// What became of the row; a refusal of it refuses the mending.
fn told(progress: &Progress<'_>, line: u64) -> Answer<(RowOutcome, RunId)> {
    match progress.row(line) {
        (_, Some(refusal)) => {
            let mut faults = Faults::default();
            for one in &refusal.faults {
                faults.add("/text", format!("The row {}.", one.detail));
            }
            for one in refusal
                .contradiction
                .iter()
                .flat_map(|one| &one.differences)
            {
                let shown = |value: &Option<String>| value.clone().unwrap_or_default();
                faults.add(
                    "/text",
                    format!(
                        "{}: recorded \"{}\", in the row \"{}\".",
                        one.field,
                        shown(&one.recorded),
                        shown(&one.imported)
                    ),
                );
            }
            Err(ApiError::Invalid(faults))
        }
        (Some((outcome, Some(run))), None) => Ok((outcome, run)),
        (Some((_, None)) | None, None) => Err(ApiError::field(
            "/text",
            "The row tells no run: it has no reading.",
        )),
    }
}
