//! What each reading said when it was imported, 24 bytes a reading, so that a later export is
//! compared without reading the earlier one again.
//!
//! Promises that equal mapped fields give equal entries, whatever dialect they were written in.

use domain::{analytes::Analyte, imports::Fingerprint};
use sha2::{Digest as _, Sha256};
use std::collections::HashMap;
use uuid::Uuid;

const ENTRY: usize = 24;

/// The first bytes of a digest.
fn start<const N: usize>(digest: impl AsRef<[u8]>) -> [u8; N] {
    let mut out = [0; N];
    for (place, byte) in out.iter_mut().zip(digest.as_ref()) {
        *place = *byte;
    }
    out
}

fn tag(analyte: Analyte) -> [u8; 4] {
    start(Sha256::digest(analyte.slug().as_bytes()))
}

/// The entries that were kept, each with its line.
pub(super) fn kept(bytes: &[u8]) -> impl Iterator<Item = (u64, &[u8])> {
    bytes.chunks_exact(ENTRY).map(|entry| {
        let line = u32::from_be_bytes(start(entry));
        (u64::from(line), entry)
    })
}

/// The digest of all mapped fields of a reading.
pub(super) fn said(fingerprint: &Fingerprint) -> [u8; 16] {
    let digest = Sha256::new()
        .chain_update(&fingerprint.open)
        .chain_update([0])
        .chain_update(&fingerprint.personal)
        .finalize();
    start(digest)
}

/// The entries of one import, in the making.
#[derive(Default)]
pub(super) struct Written {
    bytes: Vec<u8>,
    tags: HashMap<Analyte, [u8; 4]>,
}

impl Written {
    /// Adds what a line says of an analyte.
    pub(super) fn add(&mut self, line: u64, analyte: Analyte, fingerprint: &Fingerprint) {
        let tag = *self.tags.entry(analyte).or_insert_with(|| tag(analyte));
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        self.bytes.extend_from_slice(&line.to_be_bytes());
        self.bytes.extend_from_slice(&tag);
        self.bytes.extend_from_slice(&said(fingerprint));
    }

    /// Each entry, in the order in which they were added.
    pub(super) fn entries(&self) -> impl Iterator<Item = &[u8]> {
        self.bytes.chunks_exact(ENTRY)
    }

    /// The bytes that are kept.
    pub(super) fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}

/// The entries of some imports.
#[derive(Default)]
pub(super) struct Recorded(HashMap<(Uuid, u32, [u8; 4]), [u8; 16]>);

impl Recorded {
    /// Adds the entries of an import.
    pub(super) fn add(&mut self, import: Uuid, bytes: &[u8]) {
        for entry in bytes.chunks_exact(ENTRY) {
            let (line, rest) = entry.split_at(4);
            let (tag, digest) = rest.split_at(4);
            let line = u32::from_be_bytes(start(line));
            self.0.insert((import, line, start(tag)), start(digest));
        }
    }

    /// What a line of an import said of an analyte.
    pub(super) fn of(&self, import: Uuid, line: u64, analyte: Analyte) -> Option<[u8; 16]> {
        let line = u32::try_from(line).ok()?;
        self.0.get(&(import, line, tag(analyte))).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fingerprint(value: &str) -> Fingerprint {
        Fingerprint {
            open: format!(r#"{{"value":"{value}"}}"#),
            personal: "{}".into(),
        }
    }

    #[test]
    fn what_was_written_is_found_by_import_line_and_analyte() {
        let import = Uuid::from_u128(7);
        let mut written = Written::default();
        written.add(3, Analyte::Zearalenone, &fingerprint("52"));
        written.add(3, Analyte::Deoxynivalenol, &fingerprint("620"));
        assert_eq!(written.bytes().len(), 2 * ENTRY);
        let mut recorded = Recorded::default();
        recorded.add(import, written.bytes());
        let found = recorded.of(import, 3, Analyte::Zearalenone);
        assert_eq!(found, Some(said(&fingerprint("52"))));
        assert_ne!(found, Some(said(&fingerprint("25"))));
        assert_eq!(recorded.of(import, 4, Analyte::Zearalenone), None);
        assert_eq!(recorded.of(Uuid::nil(), 3, Analyte::Zearalenone), None);
    }
}
