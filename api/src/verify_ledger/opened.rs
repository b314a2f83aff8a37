//! The archive's ZIP file, opened with suspicion.
//!
//! Promises that no more is read than the file's directory says, line by line; refuses names that
//! an archive does not have (and so every path out of it), names given twice, files that overlap,
//! encryption, other compression than deflate, and what would grow a hundredfold.

use domain::ledger::archive::lines::LONGEST_LINE;
use std::{
    fs::File,
    io::{self, BufRead, BufReader, Read, Seek, SeekFrom},
    os::unix::fs::FileExt as _,
    path::Path,
    sync::Arc,
};
use zip::{CompressionMethod, ZipArchive, read::ZipFile};

/// The most bytes of a file that is read whole.
pub(super) const LARGEST_SMALL_FILE: u64 = 16 * 1024 * 1024;

/// The most bytes of a checkpoint, with its cosignatures.
const LARGEST_CHECKPOINT: u64 = 64 * 1024;

/// The most files: one checkpoint a second for eleven days, or two a minute for a year.
const MOST_FILES: usize = 1_000_000;

/// How many times its compressed size a long file may have: acts and hashes shrink to a half.
const MOST_GROWTH: u64 = 100;

/// Why an archive cannot be checked.
#[derive(Debug, thiserror::Error)]
pub(super) enum Refused {
    /// The file cannot be read.
    #[error("the archive cannot be read: {0}")]
    Io(#[from] io::Error),
    /// It is no ZIP file that is whole.
    #[error("the archive is no whole ZIP file: {0}")]
    Zip(#[from] zip::result::ZipError),
    /// Anything else, in words.
    #[error("{0}")]
    Other(String),
}

impl Refused {
    /// An error with its causes.
    pub(super) fn because(error: impl std::error::Error) -> Self {
        Self::Other(crate::error::chain(&error))
    }
}

/// A file that is read at several places at once.
#[derive(Clone)]
pub(super) struct Positioned {
    file: Arc<File>,
    at: u64,
    length: u64,
}

impl Read for Positioned {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read_at(buffer, self.at)?;
        self.at = self
            .at
            .saturating_add(u64::try_from(read).map_err(io::Error::other)?);
        Ok(read)
    }
}

impl Seek for Positioned {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let target = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::End(by) => self.length.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = target.ok_or_else(|| io::Error::other("a place before the beginning"))?;
        Ok(self.at)
    }
}

/// An archive whose directory was looked through.
#[derive(Clone)]
pub(super) struct Opened {
    zip: ZipArchive<Positioned>,
}

impl Opened {
    /// Opens an archive.
    pub(super) fn open(path: &Path) -> Result<Self, Refused> {
        let file = File::open(path)
            .map_err(|error| Refused::Other(format!("{}: {error}", path.display())))?;
        let length = file.metadata()?.len();
        let mut zip = ZipArchive::new(Positioned {
            file: Arc::new(file),
            at: 0,
            length,
        })?;
        if zip.len() > MOST_FILES {
            return Err(Refused::Other(format!("it holds {} files", zip.len())));
        }
        if zip.has_duplicate_names() {
            return Err(Refused::Other("a file's name stands twice in it".into()));
        }
        if zip.has_overlapping_files()? {
            return Err(Refused::Other("files overlap in it".into()));
        }
        for index in 0..zip.len() {
            check_file(&zip.by_index_raw(index)?)?;
        }
        Ok(Self { zip })
    }

    /// The names of the checkpoints' files.
    pub(super) fn checkpoints(&self) -> Vec<String> {
        let names = self.zip.file_names().filter_map(Result::ok);
        names
            .filter(|name| name.starts_with("checkpoints/") && !name.ends_with('/'))
            .map(std::borrow::Cow::into_owned)
            .collect()
    }

    /// A file that is read whole.
    pub(super) fn small(&mut self, name: &str) -> Result<Vec<u8>, Refused> {
        let file = find(&mut self.zip, name)?;
        let (size, mut bytes) = (file.size(), Vec::new());
        file.take(size.saturating_add(1)).read_to_end(&mut bytes)?;
        if u64::try_from(bytes.len()) != Ok(size) {
            return Err(Refused::Other(format!("{name} is not as long as it says")));
        }
        Ok(bytes)
    }

    /// The lines of a file, from a place of their own in the archive.
    pub(super) fn lines(&self, name: &'static str) -> Result<Lines, Refused> {
        Lines::open(self.zip.clone(), name)
    }
}

fn find<'a>(
    zip: &'a mut ZipArchive<Positioned>,
    name: &str,
) -> Result<ZipFile<'a, Positioned>, Refused> {
    match zip.by_name(name) {
        Ok(file) => Ok(file),
        Err(zip::result::ZipError::FileNotFound) => {
            Err(Refused::Other(format!("{name} is missing in the archive")))
        }
        Err(error) => Err(error.into()),
    }
}

fn check_file(file: &ZipFile<'_, Positioned>) -> Result<(), Refused> {
    let name = file.name()?.into_owned();
    let shown: String = name.chars().take(60).collect();
    let refuse = |why: &str| Refused::Other(format!("\"{shown}\" {why}"));
    let size = file.size();
    let most = match name.as_str() {
        "entries.jsonl" | "records.jsonl" | "disclosures.jsonl" => {
            let grown = file.compressed_size().saturating_mul(MOST_GROWTH);
            grown.max(LARGEST_SMALL_FILE)
        }
        "manifest.json" | "trust.json" => LARGEST_SMALL_FILE,
        "checkpoints/" => 0,
        other => match other.strip_prefix("checkpoints/") {
            Some(number) if is_decimal(number) => LARGEST_CHECKPOINT,
            _ => return Err(refuse("is no file of an archive")),
        },
    };
    if size > most {
        return Err(refuse(&format!("claims {size} bytes; {most} is the most")));
    }
    if file.encrypted() {
        return Err(refuse("is encrypted"));
    }
    let method = file.compression();
    if method == CompressionMethod::Stored || method == CompressionMethod::Deflated {
        Ok(())
    } else {
        Err(refuse("is compressed by another method than deflate"))
    }
}

fn is_decimal(text: &str) -> bool {
    text == "0"
        || (!text.starts_with('0')
            && (1..=16).contains(&text.len())
            && text.bytes().all(|byte| byte.is_ascii_digit()))
}

/// The lines of one file: read ahead in a thread of its own, since one core unpacks while the
/// others verify.
pub(super) struct Lines {
    blocks: std::sync::mpsc::Receiver<Result<Vec<String>, Refused>>,
    block: std::vec::IntoIter<String>,
    number: u64,
}

/// How many bytes of lines are handed over at once.
const BLOCK: usize = 256 * 1024;

impl Lines {
    fn open(mut zip: ZipArchive<Positioned>, name: &'static str) -> Result<Self, Refused> {
        find(&mut zip, name)?;
        let (send, blocks) = std::sync::mpsc::sync_channel(4);
        // It ends when the file does, or when nobody listens any more.
        std::thread::Builder::new().spawn(move || {
            if let Err(refused) = unpack(&mut zip, name, &send) {
                drop(send.send(Err(refused)));
            }
        })?;
        Ok(Self {
            blocks,
            block: Vec::new().into_iter(),
            number: 0,
        })
    }

    /// The next line without its end, and its number from 1.
    pub(super) fn next_line(&mut self) -> Result<Option<(u64, String)>, Refused> {
        loop {
            if let Some(line) = self.block.next() {
                self.number = self.number.saturating_add(1);
                return Ok(Some((self.number, line)));
            }
            match self.blocks.recv() {
                Ok(block) => self.block = block?.into_iter(),
                Err(_ended) => return Ok(None),
            }
        }
    }
}

fn unpack(
    zip: &mut ZipArchive<Positioned>,
    name: &str,
    to: &std::sync::mpsc::SyncSender<Result<Vec<String>, Refused>>,
) -> Result<(), Refused> {
    let file = find(zip, name)?;
    let said = file.size();
    let mut reader = BufReader::with_capacity(BLOCK, file.take(said.saturating_add(1)));
    let (mut block, mut filled, mut read) = (Vec::new(), 0_usize, 0_u64);
    loop {
        let mut line = Vec::new();
        let longest = u64::try_from(LONGEST_LINE).map_err(Refused::because)?;
        let taken = (&mut reader)
            .take(longest.saturating_add(1))
            .read_until(b'\n', &mut line)?;
        if taken == 0 {
            break;
        }
        if taken > LONGEST_LINE {
            return Err(Refused::Other(format!("a line of {name} is too long")));
        }
        read = read.saturating_add(u64::try_from(taken).map_err(Refused::because)?);
        if line.last() == Some(&b'\n') {
            line.pop();
        }
        filled = filled.saturating_add(taken);
        // What is no UTF-8 is no line that is due; it is named by the check that meets it.
        let text = String::from_utf8(line)
            .unwrap_or_else(|bad| String::from_utf8_lossy(bad.as_bytes()).into_owned());
        block.push(text);
        if filled >= BLOCK {
            filled = 0;
            if to.send(Ok(std::mem::take(&mut block))).is_err() {
                return Ok(());
            }
        }
    }
    if read != said {
        return Err(Refused::Other(format!("{name} is not as long as it says")));
    }
    drop(to.send(Ok(block)));
    Ok(())
}
