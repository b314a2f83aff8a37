//! A proof from a small log and from a large one: what the height of the tree costs.
//!
//! The logs are synthetic: every entry but the proved ones is the same filler. Tiles, roots and
//! proofs are real, so that the service's own check of each proof holds.

use crate::{
    cluster::Failure,
    database::{self, Databases},
    laboratory::BASE,
    service::{Room, Service, in_lab},
};
use api::statement::statement;
use diesel::sql_types::{Array, BigInt, Binary, Integer, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl as _};
use domain::{
    id::{ActId, LaboratoryId},
    ledger::{
        Act, Actor, Hash, RecordDraft, SecretKey, act, checkpoint::Checkpoint, head::Head, tile,
        tree,
    },
};
use serde_json::json;
use std::{
    collections::BTreeMap,
    time::{Duration, Instant},
};
use uuid::Uuid;

/// Entries of the logs that are compared; their numbers are 2 and 3.
const SIZES: [u64; 2] = [10_000, 10_000_000];

/// Entries of each log that proofs are asked of.
const PROVED: u64 = 64;

/// Proofs asked of each log in a round.
const REQUESTS: usize = 1_000;

/// How long proofs took, for each log.
#[derive(Debug, Default)]
pub(crate) struct Proved(Vec<(u64, Vec<Duration>)>);

impl Proved {
    /// Entries of each log, with the median and the 99th percentile.
    pub(crate) fn figures(&self) -> Vec<(u64, Duration, Duration)> {
        let at = |sorted: &[Duration], percent: usize| {
            let index = sorted.len().saturating_mul(percent) / 100;
            sorted.get(index).copied().unwrap_or_default()
        };
        self.0
            .iter()
            .map(|(size, times)| {
                let mut sorted = times.clone();
                sorted.sort_unstable();
                (*size, at(&sorted, 50), at(&sorted, 99))
            })
            .collect()
    }
}

/// Asks for proofs of both logs in turn.
pub(crate) async fn measured(
    databases: &Databases,
    room: &Room,
    rounds: u32,
) -> Result<Proved, Failure> {
    const NAME: &str = "proofs";
    databases.make(NAME, Some(BASE), false).await?;
    let mut owner = databases.connect(NAME).await?;
    let query = "SELECT id::text AS value FROM laboratories_laboratory";
    let laboratory: Uuid = database::text(&mut owner, query).await?.parse()?;
    let query = "SELECT laboratory_id::bigint AS value FROM laboratories_laboratory";
    let number = i32::try_from(database::number(&mut owner, query).await?)?;
    let mut logs = Vec::new();
    for (log, size) in (2_i32..).zip(SIZES) {
        let proved = synthesise(&mut owner, (number, laboratory), log, size).await?;
        logs.push((size, proved));
    }
    database::run(&mut owner, "VACUUM ANALYZE").await?;
    drop(owner);
    databases.settle().await?;
    let service = Service::start(&databases.url(NAME)?, room).await?;
    let mut connection = service.sign_in("analyst").await?.connect().await?;
    let mut measured = Proved(SIZES.map(|size| (size, Vec::new())).into());
    // The first round fills caches and plans, and is not counted.
    for round in 0..=rounds {
        for ((_, subjects), (_, times)) in logs.iter().zip(&mut measured.0) {
            for subject in subjects.iter().cycle().take(REQUESTS) {
                let path = in_lab(&format!("/records/{subject}/1/proof"));
                let begun = Instant::now();
                connection
                    .send("GET", &path, "application/json", "", b"")
                    .await?
                    .check(200, &path)?;
                if round > 0 {
                    times.push(begun.elapsed());
                }
            }
        }
    }
    service.stop()?;
    databases.drop(NAME).await?;
    Ok(measured)
}

/// An invented act with one record.
struct Invented {
    id: ActId,
    subject: Uuid,
    record: String,
    hash: Hash,
    entry: String,
}

fn invent(laboratory: Uuid, log: i32, index: u64) -> Result<Invented, Failure> {
    // Version 7, of a day in 2026, and not made twice.
    let id = |kind: u128| {
        let number = u128::try_from(log).unwrap_or_default() << 40 | u128::from(index);
        Uuid::from_u128(0x019c_a869_5000_7000_8000_0000_0000_0000 | kind << 56 | number)
    };
    let (act_id, subject) = (ActId(id(1)), id(2));
    let content = json!({"code": format!("I-{log}-{index}"), "kind": "invented for the bench"});
    let sealed = RecordDraft {
        act: act_id,
        laboratory: LaboratoryId(laboratory),
        kind: "site",
        schema: 1,
        subject,
        version: 1,
        previous: None,
        content: &content,
    }
    .seal()?;
    let signed = Act {
        id: act_id,
        action: "register-site".into(),
        actor: Actor::Process {
            process: "bench".into(),
        },
        laboratory: LaboratoryId(laboratory),
        reason: None,
        records: 1,
        root: act::root(&[sealed.hash])?,
        time: "2026-03-01T08:10:00.250000Z".parse()?,
    }
    .sign(&SecretKey::from_seed(&[7; 32]))?;
    Ok(Invented {
        id: act_id,
        subject,
        record: sealed.text,
        hash: sealed.hash,
        entry: signed.into_text(),
    })
}

/// Makes a log of this size; the subjects whose records can be proved.
async fn synthesise(
    owner: &mut AsyncPgConnection,
    (number, laboratory): (i32, Uuid),
    log: i32,
    size: u64,
) -> Result<Vec<Uuid>, Failure> {
    let mut acts = BTreeMap::new();
    for one in 0..PROVED {
        let index = (size / PROVED) * one + (one * 37) % (size / PROVED);
        acts.insert(index, invent(laboratory, log, index)?);
    }
    for (index, act) in &acts {
        insert_act(owner, number, log, *index, act).await?;
    }
    let leaves = acts.iter().map(|(index, act)| {
        let leaf = Hash::of_leaf(act.entry.as_bytes());
        (*index, leaf)
    });
    let unfinished = insert_tiles(owner, (number, log), size, leaves.collect()).await?;
    let head = Head::new(size, unfinished.clone())?;
    let origin = format!("bench.example/log/{laboratory}/{log}");
    let note = Checkpoint {
        origin: origin.clone(),
        size,
        root: head.root(),
        extensions: Vec::new(),
    }
    .sign(&SecretKey::from_seed(&[8; 32]))?;
    let bytes: Vec<Vec<u8>> = unfinished.iter().map(|one| tile::to_bytes(one)).collect();
    let root = head.root();
    statement(
        "WITH log AS (INSERT INTO ledger_log \
             (laboratory_id, log_number, origin, log_id, began_at) \
           VALUES ($1, $2, $3, gen_random_uuid(), now())), \
         head AS (INSERT INTO ledger_head \
             (laboratory_id, log_number, size, unfinished, signed_size) \
           VALUES ($1, $2, $4, $5, $4)) \
         INSERT INTO ledger_checkpoint (laboratory_id, log_number, size, root, note, signed_at) \
         VALUES ($1, $2, $4, $6, $7, now())",
    )
    .bind::<Integer, _>(number)
    .bind::<Integer, _>(log)
    .bind::<Text, _>(origin)
    .bind::<BigInt, _>(i64::try_from(size)?)
    .bind::<Array<Binary>, _>(bytes)
    .bind::<Binary, _>(root.as_bytes().as_slice())
    .bind::<Text, _>(note)
    .execute(owner)
    .await?;
    Ok(acts.into_values().map(|act| act.subject).collect())
}

async fn insert_act(
    owner: &mut AsyncPgConnection,
    number: i32,
    log: i32,
    index: u64,
    act: &Invented,
) -> Result<(), Failure> {
    let mut records = act.record.clone().into_bytes();
    records.push(b'\n');
    statement(
        "WITH act AS (INSERT INTO ledger_act (laboratory_id, act_id, action, actor, recorded_at, \
             record_count, entry, records) \
           VALUES ($1, $2, 'register-site', '{\"process\":\"bench\"}', now(), 1, $3, $4)), \
         version AS (INSERT INTO ledger_version (laboratory_id, subject_id, version, act_id, \
             position, record_hash) VALUES ($1, $5, 1, $2, 0, $6)) \
         INSERT INTO ledger_entry (laboratory_id, log_number, entry_index, act_id) \
         VALUES ($1, $7, $8, $2)",
    )
    .bind::<Integer, _>(number)
    .bind::<SqlUuid, _>(act.id.0)
    .bind::<Text, _>(&act.entry)
    .bind::<Binary, _>(records)
    .bind::<SqlUuid, _>(act.subject)
    .bind::<Binary, _>(act.hash.as_bytes().as_slice())
    .bind::<Integer, _>(log)
    .bind::<BigInt, _>(i64::try_from(index)?)
    .execute(owner)
    .await?;
    Ok(())
}

/// Inserts the full tiles of a log whose entries are all filler but for some; the hashes of the
/// unfinished tile of each level.
async fn insert_tiles(
    owner: &mut AsyncPgConnection,
    (number, log): (i32, i32),
    size: u64,
    leaves: BTreeMap<u64, Hash>,
) -> Result<Vec<Vec<Hash>>, Failure> {
    let mut filler = Hash::of_leaf(b"filler of the bench");
    let mut others = leaves;
    let mut unfinished = Vec::new();
    for level in 0_i16.. {
        let wide = tile::tiles_wide(size, u32::try_from(level)?);
        if wide == 0 {
            break;
        }
        let hashes = |from: u64, to: u64| -> Vec<Hash> {
            (from..to)
                .map(|index| others.get(&index).copied().unwrap_or(filler))
                .collect()
        };
        let full = wide / 256;
        let mut above = BTreeMap::new();
        let mut special: Vec<(i64, Vec<u8>)> = Vec::new();
        for index in others
            .keys()
            .map(|index| index / 256)
            .filter(|at| *at < full)
        {
            let own = hashes(index * 256, index * 256 + 256);
            if above.insert(index, tree::root(&own)).is_none() {
                special.push((i64::try_from(index)?, tile::to_bytes(&own)));
            }
        }
        unfinished.push(hashes(full * 256, wide));
        let (indexes, bytes): (Vec<i64>, Vec<Vec<u8>>) = special.into_iter().unzip();
        statement(
            "INSERT INTO ledger_tile (laboratory_id, log_number, level, tile_index, hashes) \
             SELECT $1, $2, $3, tile_index, COALESCE(own.hashes, $4) \
             FROM generate_series(0, $5 - 1) AS tile_index \
             LEFT JOIN UNNEST($6, $7) AS own (tile_index, hashes) USING (tile_index)",
        )
        .bind::<Integer, _>(number)
        .bind::<Integer, _>(log)
        .bind::<SmallInt, _>(level)
        .bind::<Binary, _>(tile::to_bytes(&[filler; 256]))
        .bind::<BigInt, _>(i64::try_from(full)?)
        .bind::<Array<BigInt>, _>(indexes)
        .bind::<Array<Binary>, _>(bytes)
        .execute(owner)
        .await?;
        filler = tree::root(&[filler; 256]);
        others = above;
    }
    Ok(unfinished)
}
