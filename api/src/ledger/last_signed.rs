//! The file outside the database that keeps the last checkpoint signed for each log, so that a
//! database that was put back to an older state is found out before anything is signed again.
//!
//! Promises that what it keeps was on the disk before the checkpoint was handed out (write, fsync,
//! rename), and that processes of one host take turns. Refuses a file that it cannot read whole.

use domain::ledger::Hash;
use serde_json::{Map, Value, json};
use std::{
    fs::{File, OpenOptions},
    io::{self, Write as _},
    path::{Path, PathBuf},
};

/// How far a log had come when its last checkpoint was signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Signed {
    /// Entries.
    pub(crate) size: u64,
    /// Root of the tree over them.
    pub(crate) root: Hash,
}

/// The file could not be used.
#[derive(Debug, thiserror::Error)]
pub(crate) enum LastSignedError {
    /// It could not be read or written.
    #[error("the file of last-signed checkpoints, {path}, cannot be used")]
    Io {
        /// Where it is.
        path: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// It holds something else.
    #[error(
        "the file of last-signed checkpoints, {0}, is damaged: put it back from a copy, or have \
         its operator find out what happened to it"
    )]
    Damaged(PathBuf),
}

/// Where the file is.
#[derive(Debug, Clone)]
pub(crate) struct LastSigned {
    directory: PathBuf,
}

/// The file, locked for as long as this lives.
pub(crate) struct Locked {
    directory: PathBuf,
    logs: Map<String, Value>,
    _lock: File,
}

impl LastSigned {
    /// The file in a directory, which is made when it is needed.
    pub(crate) fn in_directory(directory: &Path) -> Self {
        Self {
            directory: directory.to_owned(),
        }
    }

    /// Waits for its turn and reads the file; it stays locked until the answer is dropped.
    ///
    /// # Errors
    /// [`LastSignedError`].
    pub(crate) fn lock(&self) -> Result<Locked, LastSignedError> {
        let lock_path = self.directory.join("last-signed.lock");
        let refuse = |source| LastSignedError::Io {
            path: lock_path.clone(),
            source,
        };
        std::fs::create_dir_all(&self.directory).map_err(refuse)?;
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&lock_path)
            .map_err(refuse)?;
        lock.lock().map_err(refuse)?;
        Ok(Locked {
            logs: read(&file(&self.directory))?,
            directory: self.directory.clone(),
            _lock: lock,
        })
    }

    /// What was signed last of a log.
    ///
    /// # Errors
    /// [`LastSignedError`].
    pub(crate) fn known(&self, origin: &str) -> Result<Option<Signed>, LastSignedError> {
        // A rename replaces the file whole, so that a reader needs no lock.
        let path = file(&self.directory);
        known(&read(&path)?, origin).ok_or(LastSignedError::Damaged(path))
    }
}

impl Locked {
    /// What was signed last of a log.
    ///
    /// # Errors
    /// [`LastSignedError::Damaged`].
    pub(crate) fn known(&self, origin: &str) -> Result<Option<Signed>, LastSignedError> {
        known(&self.logs, origin).ok_or_else(|| LastSignedError::Damaged(file(&self.directory)))
    }

    /// Keeps what is about to be signed.
    ///
    /// # Errors
    /// [`LastSignedError::Io`]; then the file is as it was.
    pub(crate) fn keep(&mut self, origin: &str, signed: Signed) -> Result<(), LastSignedError> {
        self.logs.insert(
            origin.to_owned(),
            json!({"root": signed.root.to_string(), "size": signed.size}),
        );
        let path = file(&self.directory);
        write(&path, &json!({"format": 1, "logs": self.logs}))
            .map_err(|source| LastSignedError::Io { path, source })
    }
}

fn file(directory: &Path) -> PathBuf {
    directory.join("last-signed.json")
}

fn read(path: &Path) -> Result<Map<String, Value>, LastSignedError> {
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Map::new()),
        Err(source) => {
            return Err(LastSignedError::Io {
                path: path.to_owned(),
                source,
            });
        }
    };
    let damaged = || LastSignedError::Damaged(path.to_owned());
    let whole: Value = serde_json::from_str(&text).ok().ok_or_else(damaged)?;
    if whole.get("format").and_then(Value::as_u64) != Some(1) {
        return Err(damaged());
    }
    let logs = whole.get("logs").and_then(Value::as_object);
    logs.cloned().ok_or_else(damaged)
}

/// What the file says of a log; nothing where what it says cannot be read.
fn known(logs: &Map<String, Value>, origin: &str) -> Option<Option<Signed>> {
    let Some(log) = logs.get(origin) else {
        return Some(None);
    };
    Some(Some(Signed {
        size: log.get("size")?.as_u64()?,
        root: log.get("root")?.as_str()?.parse().ok()?,
    }))
}

fn write(path: &Path, whole: &Value) -> io::Result<()> {
    let next = path.with_extension("next");
    let mut file = File::create(&next)?;
    file.write_all(whole.to_string().as_bytes())?;
    file.sync_all()?;
    std::fs::rename(&next, path)?;
    match path.parent() {
        Some(directory) => File::open(directory)?.sync_all(),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "a test may unwrap")]
    use super::*;

    #[test]
    fn what_was_signed_is_known_again_and_a_damaged_file_is_refused() {
        let directory = std::env::temp_dir().join(format!("assize-last-{}", std::process::id()));
        let last = LastSigned::in_directory(&directory);
        assert_eq!(last.known("lab.example/log/1").unwrap(), None);
        let signed = Signed {
            size: 3,
            root: Hash::of(b"x"),
        };
        last.lock()
            .unwrap()
            .keep("lab.example/log/1", signed)
            .unwrap();
        assert_eq!(last.known("lab.example/log/1").unwrap(), Some(signed));
        assert_eq!(last.known("lab.example/log/2").unwrap(), None);
        for damage in [
            "",
            "{}",
            "{\"format\":1,\"logs\":{\"lab.example/log/1\":{}}}",
        ] {
            std::fs::write(file(&directory), damage).unwrap();
            assert!(last.known("lab.example/log/1").is_err(), "{damage}");
        }
        std::fs::remove_dir_all(directory).unwrap();
    }
}
