//! What a rebuilt copy needs of uploads: by what an export identifies each run, and what each
//! reading said. No record holds either; both are read again from the kept bytes, by the version
//! of the map that the import names, as the import read them.
//!
//! Refuses bytes that are not those of the recorded digest. Where an upload was erased, what only
//! it told is taken over from the live rows, and named.

use super::{
    fingerprints::{self, Written},
    mend_row::read_again,
    reading,
    store::{
        self,
        replayed::{self, ToldLine},
        uploads,
    },
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    ledger, runs,
};
use domain::{
    column_maps::ColumnMap,
    erasures::ERASED,
    id::ColumnMapId,
    imports::{ImportedExport, ReadableRun, RefusedRow, unescaped},
};
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// An import whose upload, or a mended row of it, is gone or is not the one that was recorded.
pub(crate) struct TakenOver {
    /// The import.
    pub(crate) import: Uuid,
    /// Digest of the upload.
    pub(crate) digest: String,
    /// Whether other bytes are there in its place.
    pub(crate) is_another: bool,
}

/// What some lines told: the readings' entries, and what identifies runs.
#[derive(Default)]
struct Told {
    said: Vec<(ToldLine, Vec<u8>)>,
    keys: Vec<(Uuid, String)>,
}

/// Completes replayed runs and imports by what the uploads tell. The answer names the imports for
/// which that was not possible.
///
/// # Errors
/// [`ApiError::Internal`] where the database fails, or a map cannot be read.
pub(crate) async fn rebuild(tx: &mut Tx) -> Answer<Vec<TakenOver>> {
    replayed::note_lines(tx).await?;
    let mut taken_over = Vec::new();
    for import in replayed::telling(tx).await? {
        let about = store::find(tx, import).await?.content;
        let lines = replayed::lines(tx, import).await?;
        let upload = upload(tx, &about).await?;
        let is_another = matches!(upload, Upload::Another);
        let (told, is_whole) = match upload {
            Upload::Kept(bytes) => told_by(tx, import, &about, &lines, bytes).await?,
            Upload::Gone | Upload::Another => (take_over(tx, import, &lines).await?, false),
        };
        if !is_whole {
            taken_over.push(TakenOver {
                import,
                digest: about.digest,
                is_another,
            });
        }
        replayed::note_said(tx, import, &told.said).await?;
        runs::store::replay_import_keys(tx, told.keys).await?;
    }
    replayed::write_fingerprints(tx).await?;
    replayed::take_over_text_digests(tx).await?;
    Ok(taken_over)
}

enum Upload {
    Kept(Vec<u8>),
    Gone,
    Another,
}

async fn upload(tx: &mut Tx, about: &ImportedExport) -> Answer<Upload> {
    match uploads::find(tx, &about.digest).await {
        Ok((bytes, _)) if reading::digest(&bytes) == about.digest => Ok(Upload::Kept(bytes)),
        Ok(_) => Ok(Upload::Another),
        Err(ApiError::NotFound(_)) => Ok(Upload::Gone),
        Err(failed) => Err(failed),
    }
}

/// A column map in the version by which something was read.
async fn map_at(tx: &mut Tx, map: ColumnMapId, version: u32) -> Answer<Kept<ColumnMap>> {
    let version = i32::try_from(version).map_err(ApiError::internal)?;
    let content = ledger::content_of(tx, map.0, version).await?;
    Ok(Kept {
        id: map.0,
        version,
        content: serde_json::from_value(content).map_err(ApiError::internal)?,
        created_at: tx.now(),
        changed_at: tx.now(),
    })
}

/// What the upload told, and whether that is all: a mended row may have been erased.
async fn told_by(
    tx: &mut Tx,
    import: Uuid,
    about: &ImportedExport,
    lines: &HashMap<u64, ToldLine>,
    bytes: Vec<u8>,
) -> Answer<(Told, bool)> {
    let mended = replayed::mended(tx, import).await?;
    let mended_lines: BTreeSet<u64> = mended.iter().map(|row| row.line).collect();
    let as_it_came: HashMap<u64, ToldLine> = lines
        .iter()
        .filter(|(line, _)| !mended_lines.contains(line))
        .map(|(line, told)| (*line, *told))
        .collect();
    let map = map_at(tx, about.column_map, about.column_map_version).await?;
    let export = reading::read(bytes.into(), String::new(), map).await?;
    let mut told = Told::default();
    let mut erased = HashMap::new();
    for run in export.grouped.iter().flat_map(|grouped| &grouped.runs) {
        told.add(run, &as_it_came);
    }
    for row in &mended {
        let Some(runs) = read_mended(tx, about, row).await? else {
            erased.extend(lines.get(&row.line).map(|told| (row.line, *told)));
            continue;
        };
        for run in runs {
            told.add(&run, lines);
        }
    }
    let is_whole = erased.is_empty();
    if !is_whole {
        told.extend(take_over(tx, import, &erased).await?);
    }
    Ok((told, is_whole))
}

async fn read_mended(
    tx: &mut Tx,
    about: &ImportedExport,
    row: &RefusedRow,
) -> Answer<Option<Vec<ReadableRun>>> {
    let Some(mending) = row.mending.as_ref().filter(|one| one.text != ERASED) else {
        return Ok(None);
    };
    let map = map_at(tx, about.column_map, mending.column_map_version).await?;
    let grouped = read_again(about, &map, row.line, &unescaped(&mending.text))?;
    Ok(Some(grouped.runs))
}

impl Told {
    fn extend(&mut self, other: Self) {
        self.said.extend(other.said);
        self.keys.extend(other.keys);
    }

    /// Adds what a run of an export told by those of its lines that were taken.
    fn add(&mut self, run: &ReadableRun, lines: &HashMap<u64, ToldLine>) {
        for line in run.lines.iter().filter_map(|line| lines.get(line)) {
            if line.is_first {
                self.keys.push((line.run_id, run.identity.clone()));
            }
        }
        for reading in &run.readings {
            let Some(line) = lines.get(&reading.line) else {
                continue;
            };
            let mut written = Written::default();
            let analyte = reading.reading.reading.analyte;
            written.add(reading.line, analyte, &reading.fingerprint);
            let entries = written.entries().map(|entry| (*line, entry.to_vec()));
            self.said.extend(entries);
        }
    }
}

/// What the live rows say, where the upload cannot be asked.
async fn take_over(tx: &mut Tx, import: Uuid, lines: &HashMap<u64, ToldLine>) -> Answer<Told> {
    let bytes = replayed::live_fingerprints(tx, import).await?;
    let said = fingerprints::kept(&bytes)
        .filter_map(|(line, entry)| Some((*lines.get(&line)?, entry.to_vec())))
        .collect();
    let first = lines.values().filter(|line| line.is_first);
    let keys = replayed::live_keys(tx, first.map(|line| line.run_id).collect()).await?;
    Ok(Told { said, keys })
}
