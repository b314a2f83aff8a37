//! The archive's record lines, kept aside on disk: computing again reads here and there in them.
//!
//! Promises a file that nobody else can open and that is gone when the process is; a record costs
//! its place in memory, not its bytes.

use domain::{
    assessment::{RecordedContent, RecordedVersion},
    ledger::archive::RecordLine,
    time::Moment,
    versions::SubjectVersion,
};
use std::{
    collections::HashMap,
    fs::{File, OpenOptions},
    io::{self, BufWriter, Write as _},
    os::unix::fs::{FileExt as _, OpenOptionsExt as _},
};
use uuid::Uuid;

/// Where a line stands: its first byte and how many there are.
pub(super) type Stretch = (u64, u32);

/// The file while it is written.
pub(super) struct Spool {
    writer: BufWriter<File>,
    at: u64,
}

impl Spool {
    pub(super) fn create() -> io::Result<Self> {
        let name = crate::ids::random_bytes::<12>().map_err(io::Error::other)?;
        let name: String = name.iter().map(|byte| format!("{byte:02x}")).collect();
        let path = std::env::temp_dir().join(format!("assize-records-{name}"));
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(true)
            .mode(0o600)
            .open(&path)?;
        // Without a name from here on: it lasts as long as it is open.
        std::fs::remove_file(&path)?;
        Ok(Self {
            writer: BufWriter::with_capacity(1 << 20, file),
            at: 0,
        })
    }

    /// Keeps a line.
    pub(super) fn keep(&mut self, line: &str) -> io::Result<Stretch> {
        self.writer.write_all(line.as_bytes())?;
        let length = u32::try_from(line.len()).map_err(io::Error::other)?;
        let stretch = (self.at, length);
        self.at = self.at.saturating_add(u64::from(length));
        Ok(stretch)
    }

    /// The file, to be read.
    pub(super) fn finish(self) -> io::Result<File> {
        self.writer
            .into_inner()
            .map_err(io::IntoInnerError::into_error)
    }
}

/// Where a version of a subject is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) stretch: Stretch,
    pub(super) entry: u64,
    pub(super) time: Moment,
}

/// Where every version is, and which were derived, in the order of the entries.
#[derive(Default)]
pub(super) struct Index {
    places: HashMap<(Uuid, u32), Place>,
    pub(super) derived: Vec<SubjectVersion>,
}

impl Index {
    pub(super) fn add(&mut self, version: SubjectVersion, place: Place, derived: bool) {
        self.places
            .insert((version.subject, version.version), place);
        if derived {
            self.derived.push(version);
        }
    }

    pub(super) fn place(&self, version: SubjectVersion) -> Option<Place> {
        self.places
            .get(&(version.subject, version.version))
            .copied()
    }
}

/// Reads a version back from the file.
///
/// # Errors
/// In words, where it is not of the form of its kind.
pub(super) fn read(
    file: &File,
    place: Place,
    source: SubjectVersion,
) -> Result<RecordedVersion, String> {
    let (at, length) = place.stretch;
    let mut bytes = vec![0; usize::try_from(length).map_err(|error| error.to_string())?];
    file.read_exact_at(&mut bytes, at)
        .map_err(|error| error.to_string())?;
    let line = String::from_utf8(bytes).map_err(|error| error.to_string())?;
    let line = RecordLine::parse(&line).map_err(|error| error.to_string())?;
    let record: Whole = serde_json::from_str(&line.record).map_err(|error| error.to_string())?;
    let content = RecordedContent::read(&record.kind, record.content).map_err(|error| {
        format!(
            "it is no {} of a form that is known here: {error}",
            record.kind
        )
    })?;
    Ok(RecordedVersion {
        source,
        entry: place.entry,
        content,
    })
}

/// What is needed of a record that was verified before.
#[derive(serde::Deserialize)]
struct Whole {
    kind: String,
    content: serde_json::Value,
}
