//! `assize export-log`: the archive of a laboratory's log, for whoever checks it elsewhere.
//!
//! Promises an archive up to a checkpoint that was signed, written beside its place and moved
//! there when it is whole; a disclosure that is erased before the export is not in it. Refuses a
//! laboratory or a log that is not there, one without a checkpoint, and a file that is there
//! already.

mod store;

use super::trust_file;
use crate::{
    app::App,
    db::Tx,
    error::{Answer, ApiError},
    identity::Permit,
};
use domain::ledger::archive::{Counts, DisclosureLine, EntryLine, Manifest, RecordLine};
use std::{
    fs::File,
    io::{self, BufWriter, Write as _},
    path::{Path, PathBuf},
};
use uuid::Uuid;
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

/// How many acts are read at once.
const ACTS: i64 = 2_000;

/// What the command is to do, read from its arguments.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportLog {
    /// The laboratory, by its name in addresses.
    pub laboratory: String,
    /// The number of its log; the newest where none is given.
    pub log: Option<i32>,
    /// The file to write.
    pub to: PathBuf,
}

/// Why a command line is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0} cannot be used here: assize export-log --laboratory SLUG --to FILE [--log N]")]
pub struct ExportArgumentError(String);

/// Why no archive was written.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// There is no such laboratory.
    #[error("there is no laboratory \"{0}\"")]
    NoLaboratory(String),
    /// Nothing was sealed yet.
    #[error("the log has no checkpoint yet: start the service, and try again")]
    NoCheckpoint,
    /// The file is there already.
    #[error("{} is there already: name another file", .0.display())]
    Exists(PathBuf),
    /// The file cannot be put in its place.
    #[error("{}: {source}", .file.display())]
    File {
        /// The file.
        file: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The database or the file refused.
    #[error("the log cannot be exported")]
    Failed(#[from] ApiError),
}

impl ExportLog {
    /// Reads the command's arguments.
    ///
    /// # Errors
    /// [`ExportArgumentError`].
    pub fn from_arguments(arguments: &[&str]) -> Result<Self, ExportArgumentError> {
        let refuse = |what: &str| ExportArgumentError(what.to_owned());
        let (mut laboratory, mut log, mut to) = (None, None, None);
        for pair in arguments.chunks(2) {
            match pair {
                ["--laboratory", slug] if laboratory.is_none() => laboratory = Some(*slug),
                ["--to", file] if to.is_none() => to = Some(PathBuf::from(file)),
                ["--log", number] if log.is_none() => {
                    log = Some(number.parse().map_err(|_no_number| refuse(number))?);
                }
                _ => return Err(refuse(&pair.join(" "))),
            }
        }
        Ok(Self {
            laboratory: laboratory
                .ok_or_else(|| refuse("no --laboratory"))?
                .to_owned(),
            log,
            to: to.ok_or_else(|| refuse("no --to"))?,
        })
    }

    /// Writes the archive; says what it holds.
    ///
    /// # Errors
    /// [`ExportError`]; then no file is left.
    pub async fn run(&self, app: &App) -> Result<Manifest, ExportError> {
        let laboratory = app
            .laboratory(&self.laboratory)
            .await?
            .ok_or_else(|| ExportError::NoLaboratory(self.laboratory.clone()))?;
        let id = laboratory.id;
        let permit = Permit::process(laboratory, "export", "export-log");
        let trust = trust_file::bytes(app, id.0).await?;
        if self.to.exists() {
            return Err(ExportError::Exists(self.to.clone()));
        }
        let beside = self.beside();
        let write = async |tx: &mut Tx| self.write(tx, &beside, &trust).await;
        let written = app.db.read(&permit, write).await;
        let placed = match &written {
            Ok(Some(_)) => std::fs::rename(&beside, &self.to),
            Ok(None) | Err(_) => {
                drop(std::fs::remove_file(&beside));
                Ok(())
            }
        };
        let file = self.to.clone();
        placed.map_err(|source| ExportError::File { file, source })?;
        written?.ok_or(ExportError::NoCheckpoint)
    }

    fn beside(&self) -> PathBuf {
        let mut name = self.to.file_name().unwrap_or_default().to_owned();
        name.push(".part");
        self.to.with_file_name(name)
    }

    /// None where the log has no checkpoint.
    async fn write(&self, tx: &mut Tx, file: &Path, trust: &[u8]) -> Answer<Option<Manifest>> {
        let log = match self.log {
            Some(log) => log,
            None => store::newest_log(tx).await?,
        };
        let sizes = store::checkpoint_sizes(tx, log).await?;
        let Some(size) = sizes.last().copied() else {
            return Ok(None);
        };
        let mut zip = Archive::create(file).map_err(ApiError::internal)?;
        zip.whole("trust.json", trust).map_err(ApiError::internal)?;
        let mut counts = Counts::default();
        zip.begin("entries.jsonl").map_err(ApiError::internal)?;
        let mut from = 0;
        while from < size {
            let entries =
                store::entries(tx, log, from, size.min(from.saturating_add(ACTS))).await?;
            zip.entries(&entries, &mut counts)?;
            from = from.saturating_add(ACTS);
        }
        zip.begin("records.jsonl").map_err(ApiError::internal)?;
        from = 0;
        while from < size {
            let acts = store::records(tx, log, from, size.min(from.saturating_add(ACTS))).await?;
            zip.records(acts, &mut counts)?;
            from = from.saturating_add(ACTS);
        }
        zip.begin("disclosures.jsonl").map_err(ApiError::internal)?;
        let mut after = String::new();
        loop {
            let left = store::disclosures(tx, log, size, &after, ACTS).await?;
            let Some(last) = left.last() else { break };
            after.clone_from(&last.digest);
            zip.disclosures(&left, &mut counts)?;
        }
        for few in thinned(&sizes).chunks(1000) {
            for (size, note) in store::checkpoints(tx, log, few).await? {
                counts.checkpoints = counts.checkpoints.saturating_add(1);
                let name = format!("checkpoints/{size}");
                zip.whole(&name, note.as_bytes())
                    .map_err(ApiError::internal)?;
            }
        }
        let manifest = Manifest {
            laboratory: tx.laboratory().id,
            log: u64::try_from(log).map_err(ApiError::internal)?,
            from: 0,
            to: u64::try_from(size).map_err(ApiError::internal)?,
            counts,
        };
        let bytes = manifest.to_bytes().map_err(ApiError::internal)?;
        zip.whole("manifest.json", &bytes)
            .map_err(ApiError::internal)?;
        zip.finish().map_err(ApiError::internal)?;
        Ok(Some(manifest))
    }
}

/// Of very many checkpoints every so many, and the newest: each of them binds all before it.
fn thinned(sizes: &[i64]) -> Vec<i64> {
    const MOST: usize = 100_000;
    let step = sizes.len().div_ceil(MOST).max(1);
    let mut kept: Vec<i64> = sizes.iter().rev().step_by(step).copied().collect();
    kept.reverse();
    kept
}

/// The ZIP file while it is written.
struct Archive {
    zip: ZipWriter<BufWriter<File>>,
}

impl Archive {
    fn create(path: &Path) -> io::Result<Self> {
        Ok(Self {
            zip: ZipWriter::new(BufWriter::new(File::create(path)?)),
        })
    }

    /// Begins a file of unknown length.
    fn begin(&mut self, name: &str) -> io::Result<()> {
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .large_file(true);
        Ok(self.zip.start_file(name, options)?)
    }

    fn whole(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        self.zip.start_file(name, options)?;
        self.zip.write_all(bytes)
    }

    fn line(&mut self, line: &str) -> Answer<()> {
        let ended = [line.as_bytes(), b"\n"];
        ended
            .iter()
            .try_for_each(|bytes| self.zip.write_all(bytes))
            .map_err(ApiError::internal)
    }

    fn entries(&mut self, entries: &[store::EntryRow], counts: &mut Counts) -> Answer<()> {
        for row in entries {
            let index = u64::try_from(row.entry_index).map_err(ApiError::internal)?;
            let entry = &row.entry;
            self.line(&EntryLine { entry, index }.to_line())?;
            counts.entries = counts.entries.saturating_add(1);
        }
        Ok(())
    }

    fn records(&mut self, acts: Vec<(Uuid, Vec<u8>)>, counts: &mut Counts) -> Answer<()> {
        for (act, records) in acts {
            let records = String::from_utf8(records).map_err(ApiError::internal)?;
            for (record, position) in records.lines().zip(0_u64..) {
                let record = record.to_owned();
                let line = RecordLine {
                    act,
                    position,
                    record,
                };
                self.line(&line.to_line())?;
                counts.records = counts.records.saturating_add(1);
            }
        }
        Ok(())
    }

    fn disclosures(&mut self, left: &[store::DisclosureRow], counts: &mut Counts) -> Answer<()> {
        for row in left {
            let line = DisclosureLine {
                digest: &row.digest,
                disclosure: &row.disclosure,
            };
            self.line(&line.to_line())?;
            counts.disclosures = counts.disclosures.saturating_add(1);
        }
        Ok(())
    }

    fn finish(self) -> io::Result<()> {
        let file = self.zip.finish()?;
        let file = file.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.sync_all()
    }
}
