//! A laboratory's log as the database holds it, and what must be true of it.

use crate::harness::callers::TestApp;
use diesel::sql_types::{Array, BigInt, Binary, Integer, Text, Uuid as SqlUuid};
use diesel_async::{AsyncConnection as _, AsyncPgConnection, RunQueryDsl as _};
use domain::ledger::{
    Hash, PublicKey,
    checkpoint::ProofFile,
    head::Head,
    note::{KeyUse, VerifierKey},
    tile,
    tree::{self, RightEdge},
};
use std::{
    collections::{BTreeMap, BTreeSet},
    time::{Duration, Instant},
};
use uuid::Uuid;

#[derive(diesel::QueryableByName, Debug, Clone, PartialEq, Eq)]
pub(crate) struct Entry {
    #[diesel(sql_type = BigInt)]
    pub(crate) entry_index: i64,
    #[diesel(sql_type = SqlUuid)]
    pub(crate) act_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(crate) entry: String,
}

#[derive(diesel::QueryableByName)]
struct HeadRow {
    #[diesel(sql_type = Integer)]
    log_number: i32,
    #[diesel(sql_type = Text)]
    origin: String,
    #[diesel(sql_type = BigInt)]
    size: i64,
    #[diesel(sql_type = Array<Binary>)]
    unfinished: Vec<Vec<u8>>,
    #[diesel(sql_type = BigInt)]
    signed_size: i64,
    #[diesel(sql_type = Binary)]
    log_key: Vec<u8>,
    #[diesel(sql_type = BigInt)]
    acts: i64,
    #[diesel(sql_type = BigInt)]
    sequenced: i64,
    #[diesel(sql_type = BigInt)]
    pending: i64,
}

#[derive(diesel::QueryableByName)]
struct NoteRow {
    #[diesel(sql_type = BigInt)]
    size: i64,
    #[diesel(sql_type = Text)]
    note: String,
}

#[derive(diesel::QueryableByName)]
struct TileRow {
    #[diesel(sql_type = Integer)]
    level: i32,
    #[diesel(sql_type = BigInt)]
    tile_index: i64,
    #[diesel(sql_type = Binary)]
    hashes: Vec<u8>,
}

#[derive(diesel::QueryableByName)]
struct VersionRow {
    #[diesel(sql_type = SqlUuid)]
    subject_id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = BigInt)]
    entry_index: i64,
}

/// The current log of the test's laboratory.
pub(crate) struct Log {
    pub(crate) number: i32,
    pub(crate) entries: Vec<Entry>,
    /// Size and note, the smallest first.
    pub(crate) checkpoints: Vec<(u64, String)>,
    pub(crate) pending: i64,
    head: HeadRow,
    tiles: BTreeMap<(u32, u64), Vec<u8>>,
    versions: Vec<VersionRow>,
}

const HEAD: &str = "\
    SELECT log_number, origin, size, unfinished, signed_size, \
      (SELECT public_key FROM ledger_key WHERE key_use = 'log' \
        ORDER BY key_id DESC LIMIT 1) AS log_key, \
      (SELECT count(*) FROM ledger_act) AS acts, \
      (SELECT count(*) FROM ledger_entry) AS sequenced, \
      (SELECT count(*) FROM ledger_pending) AS pending \
    FROM ledger_head JOIN ledger_log USING (laboratory_id, log_number) \
    ORDER BY log_number DESC LIMIT 1";

/// The log as it is just now.
pub(crate) async fn log_of(app: &TestApp) -> Log {
    let mut owner = AsyncPgConnection::establish(&app.database.owner_url)
        .await
        .unwrap();
    let head: HeadRow = diesel::sql_query(HEAD)
        .get_result(&mut owner)
        .await
        .unwrap();
    let current = format!("log_number = {}", head.log_number);
    let entries = diesel::sql_query(format!(
        "SELECT entry_index, act_id, entry FROM ledger_entry JOIN ledger_act \
         USING (laboratory_id, act_id) WHERE {current} ORDER BY entry_index"
    ))
    .load(&mut owner)
    .await
    .unwrap();
    let notes: Vec<NoteRow> = diesel::sql_query(format!(
        "SELECT size, note FROM ledger_checkpoint WHERE {current} ORDER BY size"
    ))
    .load(&mut owner)
    .await
    .unwrap();
    let tiles: Vec<TileRow> = diesel::sql_query(format!(
        "SELECT level::integer, tile_index, hashes FROM ledger_tile WHERE {current}"
    ))
    .load(&mut owner)
    .await
    .unwrap();
    let versions = diesel::sql_query(format!(
        "SELECT subject_id, version, entry_index FROM ledger_version JOIN ledger_entry \
         USING (laboratory_id, act_id) WHERE {current} ORDER BY subject_id, version"
    ))
    .load(&mut owner)
    .await
    .unwrap();
    Log {
        number: head.log_number,
        entries,
        checkpoints: notes
            .into_iter()
            .map(|row| (u64::try_from(row.size).unwrap(), row.note))
            .collect(),
        pending: head.pending,
        tiles: tiles
            .into_iter()
            .map(|row| {
                let place = (
                    u32::try_from(row.level).unwrap(),
                    u64::try_from(row.tile_index).unwrap(),
                );
                (place, row.hashes)
            })
            .collect(),
        versions,
        head,
    }
}

/// The log once everything that was committed is in it, and signed.
pub(crate) async fn logged(app: &TestApp) -> Log {
    let begun = Instant::now();
    loop {
        let log = log_of(app).await;
        if log.pending == 0 && log.head.signed_size == log.head.size {
            return log;
        }
        assert!(
            begun.elapsed() < Duration::from_secs(20),
            "{} acts wait; {} of {} entries are signed",
            log.pending,
            log.head.signed_size,
            log.head.size
        );
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

impl Log {
    fn leaves(&self) -> Vec<Hash> {
        self.entries
            .iter()
            .map(|one| Hash::of_leaf(one.entry.as_bytes()))
            .collect()
    }

    /// The root over the first entries, from the entries themselves.
    pub(crate) fn root_of(&self, size: u64) -> Hash {
        tree::root(&self.leaves()[..usize::try_from(size).unwrap()])
    }

    /// The proof of an entry under the newest checkpoint, from the entries themselves.
    pub(crate) fn proof_of(&self, entry: &str) -> String {
        let index = self.entries.iter().position(|one| one.entry == entry);
        let index = index.unwrap();
        let (size, note) = self.checkpoints.last().unwrap();
        let size = usize::try_from(*size).unwrap();
        ProofFile {
            extra: None,
            index: u64::try_from(index).unwrap(),
            hashes: tree::inclusion_proof(&self.leaves()[..size], index).unwrap(),
            checkpoint: note.clone(),
        }
        .to_text()
    }

    /// The key of the log's checkpoints.
    pub(crate) fn verifier_key(&self) -> VerifierKey {
        let key = PublicKey::from_bytes(&self.head.log_key).unwrap();
        VerifierKey::new(&self.head.origin, KeyUse::Note, key).unwrap()
    }

    /// All that must be true once nothing waits.
    pub(crate) fn check(&self) {
        self.check_so_far();
        assert_eq!(self.pending, 0);
        assert_eq!(self.head.acts, self.head.sequenced, "an act without entry");
        assert_eq!(self.head.signed_size, self.head.size);
    }

    /// All that must be true at any moment.
    pub(crate) fn check_so_far(&self) {
        let size = u64::try_from(self.head.size).unwrap();
        for (place, entry) in self.entries.iter().enumerate() {
            assert_eq!(usize::try_from(entry.entry_index), Ok(place), "a gap");
        }
        let acts: BTreeSet<Uuid> = self.entries.iter().map(|one| one.act_id).collect();
        assert_eq!(acts.len(), self.entries.len(), "an act with two entries");
        assert_eq!(usize::try_from(size), Ok(self.entries.len()));
        assert_eq!(
            self.head.acts,
            self.head.sequenced + self.pending,
            "an act is neither in the log nor waiting"
        );
        let mut head = Head::default();
        let mut full = Vec::new();
        let mut edge = RightEdge::default();
        for leaf in self.leaves() {
            head.append(leaf, &mut full);
            edge.append(leaf);
        }
        let kept: Vec<Vec<u8>> = head
            .unfinished()
            .iter()
            .map(|hashes| tile::to_bytes(hashes))
            .collect();
        assert_eq!(kept, self.head.unfinished);
        let tiles: BTreeMap<(u32, u64), Vec<u8>> = full
            .iter()
            .map(|one| ((one.level, one.index), tile::to_bytes(&one.hashes)))
            .collect();
        assert_eq!(tiles, self.tiles);
        assert_eq!(head.root(), edge.root());
        for (signed, note) in &self.checkpoints {
            assert!(note.starts_with(&format!("{}\n{signed}\n", self.head.origin)));
            assert!(*signed <= size, "signed what is not there");
        }
        for pair in self.versions.windows(2) {
            let [earlier, later] = pair else { continue };
            if earlier.subject_id == later.subject_id {
                assert_eq!(earlier.version + 1, later.version);
                assert!(
                    earlier.entry_index <= later.entry_index,
                    "version {} of {} is in the log before version {}",
                    later.version,
                    later.subject_id,
                    earlier.version
                );
            }
        }
    }
}
