//! Rows that are refused: gathered with text and reasons, known again from earlier imports, and
//! kept for mending.
//!
//! Promises that a row that was refused before is not kept twice.

use super::{
    deciding::Conflict,
    reading::{self, Export},
    store::{rows, uploads},
};
use crate::{
    column_maps,
    db::Tx,
    error::{Answer, ApiError},
    ids,
    kept::Kept,
};
use actix_web::web;
use domain::{
    faults::Faults,
    id::{ImportId, RunId},
    imports::{
        Comparison, Contradiction, FaultCode, FieldDifference, Fingerprint, GroupedExport,
        RefusedRow, RowFault, compare, group, parse, parse_again, unescaped,
    },
    runs::RunError,
};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use uuid::Uuid;

/// A row that is refused; its text is looked up later where it is not at hand.
pub(super) struct Refusal {
    pub(super) text: Option<String>,
    pub(super) faults: Vec<RowFault>,
    pub(super) contradiction: Option<Contradiction>,
}

/// Refusals by line.
pub(super) type Refusals = BTreeMap<u64, Refusal>;

/// A row after it was refused.
pub(super) enum Refused {
    /// It is kept.
    Kept(Kept<RefusedRow>),
    /// It was refused in an earlier import, and not mended since.
    Before {
        /// As it would be kept.
        row: RefusedRow,
        /// The earlier import and line.
        first: (Uuid, u64),
    },
    /// It was refused in an earlier import, and mended since.
    Mended(RunId),
}

/// A fault of a row as a whole.
pub(super) fn fault(code: FaultCode, detail: impl Into<String>) -> RowFault {
    RowFault {
        column: String::new(),
        value: String::new(),
        detail: detail.into(),
        code,
    }
}

/// What the reading of the export refused already.
pub(super) fn of_reading(grouped: &GroupedExport) -> Refusals {
    let faulty = grouped.faulty.iter().map(|row| {
        let refusal = Refusal {
            text: Some(row.raw.clone()),
            faults: row.faults.clone(),
            contradiction: None,
        };
        (row.line, refusal)
    });
    let conflicting = grouped.conflicting.iter().map(|row| {
        let detail = format!(
            "says something else of the run than line {} does; keep the one that is true, or \
             correct what identifies the run",
            row.first_line
        );
        let refusal = Refusal {
            text: Some(row.raw.clone()),
            faults: vec![fault(FaultCode::ContradictsRow, detail)],
            contradiction: Some(Contradiction {
                line: Some(row.first_line),
                run: None,
                analyte: row.analyte,
                differences: row.differences.clone(),
            }),
        };
        (row.line, refusal)
    });
    faulty.chain(conflicting).collect()
}

/// A run that several bench runs are equally near.
pub(super) fn of_several(ids: &[RunId]) -> Refusal {
    let ids: Vec<String> = ids.iter().map(RunId::to_string).collect();
    let detail = format!(
        "{} runs typed at the bench are equally near: {}. Withdraw the one that was typed twice, \
         or correct its time, then mend this row",
        ids.len(),
        ids.join(", ")
    );
    Refusal {
        text: None,
        faults: vec![fault(FaultCode::SeveralBenchRuns, detail)],
        contradiction: None,
    }
}

/// A run that the rules of runs refuse.
pub(super) fn of_run(error: &RunError) -> Refusal {
    let faults = match error {
        RunError::Faults(faults) => faults
            .0
            .iter()
            .map(|one| fault(FaultCode::NoSuchRun, one.detail.clone()))
            .collect(),
        RunError::Not { .. }
        | RunError::NothingChanges
        | RunError::Overdue(_)
        | RunError::Dilution(_) => vec![fault(FaultCode::NoSuchRun, error.to_string())],
    };
    Refusal {
        text: None,
        faults,
        contradiction: None,
    }
}

/// Rows that say something else than was imported: both are shown.
///
/// # Errors
/// Where the database fails.
pub(super) async fn of_conflicts(
    tx: &mut Tx,
    conflicts: &[Conflict<'_>],
    refusals: &mut Refusals,
) -> Answer<()> {
    let mut wanted: BTreeMap<Uuid, BTreeSet<u64>> = BTreeMap::new();
    for conflict in conflicts {
        let (import, line) = conflict.first;
        wanted.entry(import).or_default().insert(line);
    }
    let mut first = HashMap::new();
    for (import, lines) in wanted {
        for ((line, analyte), said) in first_said(tx, import, lines).await? {
            first.insert((import, line, analyte), said);
        }
    }
    for conflict in conflicts {
        let (import, line) = conflict.first;
        let differences = first
            .get(&(import, line, conflict.analyte))
            .map_or_else(Vec::new, |said: &Fingerprint| {
                differences(said, conflict.imported)
            });
        let detail = format!(
            "says something else than line {line} of import {import} said of run {}: a reader \
             cannot have read two things at once. Correct the run where it is wrong",
            conflict.run
        );
        let refusal = Refusal {
            text: None,
            faults: vec![fault(FaultCode::ContradictsRun, detail)],
            contradiction: Some(Contradiction {
                line: None,
                run: Some(conflict.run),
                analyte: Some(conflict.analyte),
                differences,
            }),
        };
        refusals.insert(conflict.line, refusal);
    }
    Ok(())
}

fn differences(recorded: &Fingerprint, imported: &Fingerprint) -> Vec<FieldDifference> {
    match compare(&recorded.open, Some(&recorded.personal), imported) {
        Comparison::Same => Vec::new(),
        Comparison::Conflict(differences) => differences,
    }
}

type Said = HashMap<(u64, domain::analytes::Analyte), Fingerprint>;

/// What lines of an import said when they were first imported, read again from the upload by the
/// version of the map of that time, and from the mended texts.
async fn first_said(tx: &mut Tx, import: Uuid, lines: BTreeSet<u64>) -> Answer<Said> {
    let about = super::store::find(tx, import).await?.content;
    let version = i32::try_from(about.column_map_version).unwrap_or(i32::MAX);
    let map = column_maps::version(tx, about.column_map.0, version).await?;
    let mut said = HashMap::new();
    for &line in &lines {
        if let Some(text) = rows::mended_text(tx, import, line).await? {
            let newest = column_maps::store::find(tx, about.column_map.0)
                .await?
                .content;
            let text = unescaped(&text);
            if let Ok(parsed) = parse_again(&about.header, about.delimiter, &text, &newest) {
                collect(group(parsed), &mut said, |_| line);
            }
        }
    }
    let (bytes, _) = uploads::find(tx, &about.digest).await?;
    let of_upload = web::block(move || -> Answer<Said> {
        let mut said = HashMap::new();
        if let Ok(mut parsed) = parse(&bytes, &map.check()?) {
            parsed.rows.retain(|row| lines.contains(&row.line));
            collect(group(parsed), &mut said, |line| line);
        }
        Ok(said)
    })
    .await
    .map_err(ApiError::internal)??;
    for (key, fingerprint) in of_upload {
        said.entry(key).or_insert(fingerprint);
    }
    Ok(said)
}

fn collect(grouped: GroupedExport, said: &mut Said, line: impl Fn(u64) -> u64) {
    for reading in grouped.runs.into_iter().flat_map(|run| run.readings) {
        let key = (line(reading.line), reading.reading.reading.analyte);
        said.insert(key, reading.fingerprint);
    }
}

/// Refuses all, since one row is refused and the map says all or nothing.
pub(super) fn all_or_nothing(refusals: &Refusals) -> ApiError {
    const MOST: usize = 1000;
    let mut faults = Faults::default();
    let mut left_out: usize = 0;
    for (line, refusal) in refusals {
        for one in &refusal.faults {
            if faults.0.len() >= MOST {
                left_out = left_out.saturating_add(1);
                continue;
            }
            let column = one.column.replace('~', "~0").replace('/', "~1");
            let pointer = match column.as_str() {
                "" => format!("/rows/{line}"),
                column => format!("/rows/{line}/{column}"),
            };
            let shown = match (one.column.as_str(), one.value.as_str()) {
                ("", _) => String::new(),
                (column, "") => format!(" column \"{column}\""),
                (column, value) => format!(" column \"{column}\", value \"{value}\","),
            };
            faults.add(pointer, format!("Line {line}:{shown} {}.", one.detail));
        }
    }
    if left_out > 0 {
        faults.add("/rows", format!("{left_out} further faults are not shown."));
    }
    ApiError::Invalid(faults)
}

/// Completes the texts, and tells what was refused before from what is new.
///
/// # Errors
/// Where the database fails.
pub(super) async fn sort(
    tx: &mut Tx,
    import: ImportId,
    export: &Export,
    refusals: Refusals,
) -> Answer<BTreeMap<u64, Refused>> {
    let without: BTreeSet<u64> = refusals
        .iter()
        .filter(|(_, refusal)| refusal.text.is_none())
        .map(|(line, _)| *line)
        .collect();
    let mut texts = reading::texts(export, without).await?;
    let rows: Vec<RefusedRow> = refusals
        .into_iter()
        .map(|(line, refusal)| {
            let text = refusal.text.or_else(|| texts.remove(&line));
            let text = text.unwrap_or_default();
            RefusedRow::new(import, line, &text, refusal.faults, refusal.contradiction)
        })
        .collect();
    let digests = rows
        .iter()
        .map(|row| rows::text_digest(&row.text))
        .collect();
    let earlier: HashMap<Vec<u8>, rows::Earlier> = rows::earlier(tx, &export.about, digests)
        .await?
        .into_iter()
        .map(|one| (one.text_digest.clone(), one))
        .collect();
    Ok(rows
        .into_iter()
        .map(|row| {
            let line = row.line;
            let refused = match earlier.get(&rows::text_digest(&row.text)) {
                None => Refused::Kept(Kept::first(tx, ids::fresh(), row)),
                Some(rows::Earlier {
                    run_id: Some(run), ..
                }) => Refused::Mended(RunId(*run)),
                Some(one) => Refused::Before {
                    first: (one.import_id, u64::try_from(one.line).unwrap_or_default()),
                    row,
                },
            };
            (line, refused)
        })
        .collect())
}
