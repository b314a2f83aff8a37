//! Runs the ledger against vectors: published ones, and golden ones that other programs made.
//!
//! Reads `tests/vectors/` and the folder that `ASSIZE_VECTORS` names, prints how many cases of each
//! section ran, and refuses a file of which none did.
#![expect(
    clippy::panic,
    clippy::print_stdout,
    reason = "a test may panic, and says what it ran"
)]

mod formats;
mod jose;
mod json;
mod merkle;
mod signatures;
mod timestamp;
mod transparency;

use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What ran of a file, and what failed.
#[derive(Default)]
struct Tally {
    ran: BTreeMap<String, usize>,
    failures: Vec<String>,
}

impl Tally {
    /// Counts a case; one that cannot be run for want of a member is a failure too.
    fn case(&mut self, section: &str, name: &str, holds: impl FnOnce() -> Option<bool>) {
        *self.ran.entry(section.to_owned()).or_default() += 1;
        match holds() {
            Some(true) => {}
            Some(false) => self.failures.push(format!("{section}: {name}")),
            None => self
                .failures
                .push(format!("{section}: {name} (a member or step is missing)")),
        }
    }
}

/// A file with the folder it stands in, for those that refer to one another.
struct File<'a> {
    folder: &'a Path,
    json: Value,
}

impl File<'_> {
    /// Another file of the same folder, or of the repository's own.
    fn beside(&self, name: &str) -> Option<Value> {
        [self.folder, &own_folder()]
            .into_iter()
            .find_map(|folder| std::fs::read(folder.join(name)).ok())
            .and_then(|bytes| serde_json::from_slice(&bytes).ok())
    }
}

fn own_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/vectors")
}

fn run(path: &Path) -> Option<Tally> {
    let name = path.file_name()?.to_str()?;
    let bytes = std::fs::read(path).ok()?;
    let mut tally = Tally::default();
    if name.starts_with("jcs") && name.ends_with(".csv") {
        json::run_numbers(std::str::from_utf8(&bytes).ok()?, &mut tally);
        return Some(tally);
    }
    let runner: fn(&File<'_>, &mut Tally) = match name {
        _ if !name.ends_with(".json") => return None,
        _ if name.starts_with("formats_golden") => formats::run,
        _ if name.starts_with("merkle_") => merkle::run,
        _ if name.starts_with("timestamp") => timestamp::run,
        _ if name.starts_with("transparency") => transparency::run,
        _ if name.starts_with("ed25519") => signatures::run,
        _ if name.starts_with("jcs") => json::run,
        _ if name.starts_with("jose") => jose::run,
        _ => return None,
    };
    let json = serde_json::from_slice(&bytes).ok()?;
    let file = File {
        folder: path.parent()?,
        json,
    };
    runner(&file, &mut tally);
    Some(tally)
}

#[test]
fn every_vector_holds() {
    let mut folders = vec![own_folder()];
    folders.extend(std::env::var_os("ASSIZE_VECTORS").map(PathBuf::from));
    let mut problems = Vec::new();
    let mut files = 0;
    for folder in folders {
        let Ok(listing) = std::fs::read_dir(&folder) else {
            panic!("{} cannot be read", folder.display());
        };
        let mut paths: Vec<PathBuf> = listing.flatten().map(|entry| entry.path()).collect();
        paths.sort();
        for path in paths {
            let Some(tally) = run(&path) else { continue };
            files += 1;
            println!("{}", path.display());
            for (section, count) in &tally.ran {
                println!("  {section}: {count}");
            }
            if tally.ran.is_empty() {
                problems.push(format!("{}: nothing of it ran", path.display()));
            }
            let named = |failure| format!("{}: {failure}", path.display());
            problems.extend(tally.failures.into_iter().map(named));
        }
    }
    assert!(files >= 9, "only {files} files of vectors were found");
    assert!(
        problems.is_empty(),
        "{} failed:\n{}",
        problems.len(),
        problems.join("\n")
    );
}

/// The elements of a member that is a list; none where it is absent.
fn list<'a>(value: &'a Value, name: &str) -> &'a [Value] {
    value
        .get(name)
        .and_then(Value::as_array)
        .map_or(&[], Vec::as_slice)
}

fn text<'a>(value: &'a Value, name: &str) -> Option<&'a str> {
    value.get(name)?.as_str()
}

/// A member in hex, of any length.
fn bytes(value: &Value, name: &str) -> Option<Vec<u8>> {
    from_hex(text(value, name)?)
}

fn from_hex(digits: &str) -> Option<Vec<u8>> {
    if !digits.len().is_multiple_of(2) {
        return None;
    }
    (0..digits.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(digits.get(at..at + 2)?, 16).ok())
        .collect()
}
