//! The file outside the database that keeps which digests were erased, so that a database that was
//! put back to an older state can be brought up to them before it is served.
//!
//! Promises that a line is on the disk when it was appended (write, fsync), and that processes of
//! one host take turns. Holds digests, which tell nothing. Refuses a line that it cannot read, but
//! for a last one that was cut off while it was written: nobody committed what it was for.

use domain::{id::LaboratoryId, time::Moment};
use serde::{Deserialize, Serialize};
use std::{
    collections::{BTreeMap, BTreeSet},
    fs::{File, OpenOptions},
    io::{self, Read as _, Seek as _, Write as _},
    path::{Path, PathBuf},
};
use uuid::Uuid;

/// One erasure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Line {
    /// When.
    pub(super) at: Moment,
    /// The digests that were erased.
    pub(super) digests: Vec<String>,
    /// The erasure.
    pub(super) erasure: Uuid,
    /// The laboratory.
    pub(super) laboratory: LaboratoryId,
}

/// The file could not be used.
#[derive(Debug, thiserror::Error)]
pub(super) enum ErasedFileError {
    /// It could not be read or written.
    #[error("the file of erased digests, {path}, cannot be used")]
    Io {
        /// Where it is.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// A line of it holds something else.
    #[error(
        "line {line} of the file of erased digests, {path}, is damaged: put it back from a copy"
    )]
    Damaged {
        /// Where it is.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
    },
}

/// Where the file is.
#[derive(Debug, Clone)]
pub(super) struct ErasedFile {
    path: PathBuf,
}

impl ErasedFile {
    /// The file in a directory, both made when they are needed.
    pub(super) fn in_directory(directory: &Path) -> Self {
        Self {
            path: directory.join("erased.jsonl"),
        }
    }

    fn refuse(&self, source: io::Error) -> ErasedFileError {
        ErasedFileError::Io {
            path: self.path.clone(),
            source,
        }
    }

    /// Adds a line and waits until it is on the disk.
    ///
    /// # Errors
    /// [`ErasedFileError::Io`].
    pub(super) fn append(&self, line: &Line) -> Result<(), ErasedFileError> {
        self.write(line).map_err(|source| self.refuse(source))
    }

    fn write(&self, line: &Line) -> io::Result<()> {
        if let Some(directory) = self.path.parent() {
            std::fs::create_dir_all(directory)?;
        }
        let mut file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(&self.path)?;
        file.lock()?;
        // A line that was cut off is written over.
        let mut text = String::new();
        file.read_to_string(&mut text)?;
        let whole = text.rfind('\n').map_or(0, |at| at.saturating_add(1));
        let end = u64::try_from(whole).map_err(io::Error::other)?;
        file.set_len(end)?;
        file.seek(io::SeekFrom::Start(end))?;
        let mut bytes = serde_json::to_vec(line)?;
        bytes.push(b'\n');
        file.write_all(&bytes)?;
        file.sync_all()?;
        match self.path.parent() {
            Some(directory) => File::open(directory)?.sync_all(),
            None => Ok(()),
        }
    }

    /// The digests that were erased, of each laboratory.
    ///
    /// # Errors
    /// [`ErasedFileError`].
    pub(super) fn read(&self) -> Result<BTreeMap<Uuid, BTreeSet<String>>, ErasedFileError> {
        let text = match std::fs::read_to_string(&self.path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(BTreeMap::new()),
            Err(source) => return Err(self.refuse(source)),
        };
        let whole = text.rfind('\n').map_or(0, |at| at.saturating_add(1));
        let (whole, _cut_off) = text.split_at(whole);
        let mut found: BTreeMap<Uuid, BTreeSet<String>> = BTreeMap::new();
        for (index, line) in whole.lines().enumerate() {
            let line: Line =
                serde_json::from_str(line)
                    .ok()
                    .ok_or_else(|| ErasedFileError::Damaged {
                        path: self.path.clone(),
                        line: index.saturating_add(1),
                    })?;
            found
                .entry(line.laboratory.0)
                .or_default()
                .extend(line.digests);
        }
        Ok(found)
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;

    #[test]
    fn a_line_that_was_cut_off_is_left_out_and_a_damaged_one_is_refused() {
        let name = format!("assize-erased-{}", crate::ids::fresh::<Uuid>());
        let directory = std::env::temp_dir().join(name);
        let file = ErasedFile::in_directory(&directory);
        assert!(file.read().unwrap().is_empty());
        let line = |digest: &str| Line {
            at: "2026-03-01T08:15:30Z".parse().unwrap(),
            digests: vec![digest.to_owned()],
            erasure: Uuid::nil(),
            laboratory: LaboratoryId(Uuid::nil()),
        };
        file.append(&line("one")).unwrap();
        let path = directory.join("erased.jsonl");
        let mut open = OpenOptions::new().append(true).open(&path).unwrap();
        open.write_all(b"{\"at\":\"2026").unwrap();
        let digests = |file: &ErasedFile| file.read().unwrap().remove(&Uuid::nil()).unwrap();
        assert_eq!(digests(&file), ["one".to_owned()].into());
        file.append(&line("two")).unwrap();
        assert_eq!(digests(&file), ["one".to_owned(), "two".to_owned()].into());
        std::fs::write(&path, "{}\n").unwrap();
        assert!(file.read().is_err());
        std::fs::remove_dir_all(directory).unwrap();
    }
}
