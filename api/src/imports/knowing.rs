//! What the laboratory knows of the rows of an export, looked up in bulk before anything is
//! decided.

use super::{fingerprints::Recorded, store::known};
use crate::{db::Tx, error::Answer};
use chrono::TimeDelta;
use domain::{
    id::RunId,
    imports::{BenchRun, ReadableRun},
    runs::Origin,
};
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// A run that was imported before.
pub(super) struct KnownRun {
    /// The run.
    pub(super) id: RunId,
    /// Imports and lines that tell it.
    pub(super) origins: Vec<(Uuid, u64)>,
}

/// A run typed at the bench, and its sample.
#[derive(Clone)]
pub(super) struct KnownBenchRun {
    /// As it is compared.
    pub(super) run: BenchRun,
    /// Its sample.
    pub(super) sample: Option<Uuid>,
}

/// What is known.
#[derive(Default)]
pub(super) struct Known {
    /// Runs that were imported, by identity.
    pub(super) runs: HashMap<String, KnownRun>,
    /// What their readings said.
    pub(super) said: Recorded,
    /// Samples by code or barcode.
    pub(super) samples: HashMap<String, Uuid>,
    /// Lots by code.
    pub(super) lots: HashMap<String, known::KnownLot>,
    /// Runs typed at the bench, by reader and port, in the order of time.
    pub(super) bench: HashMap<(String, u8), Vec<KnownBenchRun>>,
}

/// Looks up what the runs of an export name.
///
/// # Errors
/// Where the database fails.
pub(super) async fn load(
    tx: &mut Tx,
    runs: &[ReadableRun],
    tolerance_seconds: u32,
) -> Answer<Known> {
    let mut known = Known::default();
    let identities: Vec<&str> = runs.iter().map(|run| run.identity.as_str()).collect();
    let mut imports = BTreeSet::new();
    for found in known::runs(tx, &identities).await? {
        let origins: Vec<(Uuid, u64)> = found
            .origins
            .into_iter()
            .filter_map(|origin| match origin {
                Origin::Import(origin) => Some((origin.import.0, origin.line)),
                Origin::Bench(_) => None,
            })
            .collect();
        imports.extend(origins.iter().map(|(import, _)| *import));
        let id = RunId(found.id);
        known
            .runs
            .insert(found.import_key, KnownRun { id, origins });
    }
    if !imports.is_empty() {
        let imports = imports.into_iter().collect();
        for (import, bytes) in known::fingerprints(tx, imports).await? {
            known.said.add(import, &bytes);
        }
    }
    let fresh: Vec<&ReadableRun> = runs
        .iter()
        .filter(|run| !known.runs.contains_key(&run.identity))
        .collect();
    named(tx, &fresh, &mut known).await?;
    bench(tx, &fresh, tolerance_seconds, &mut known).await?;
    Ok(known)
}

/// Samples by what rows call them, and lots of those that are not known.
async fn named(tx: &mut Tx, fresh: &[&ReadableRun], known: &mut Known) -> Answer<()> {
    let codes: BTreeSet<&str> = fresh
        .iter()
        .filter_map(|run| run.run.sample_code.as_deref())
        .collect();
    let codes: Vec<&str> = codes.into_iter().collect();
    known.samples = known::samples(tx, &codes).await?.into_iter().collect();
    let lots: BTreeSet<&str> = fresh
        .iter()
        .filter(|run| run.run.registers_sample)
        .filter(|run| {
            let code = run.run.sample_code.as_deref();
            code.is_some_and(|code| !known.samples.contains_key(code))
        })
        .filter_map(|run| run.run.lot_code.as_deref())
        .collect();
    if lots.is_empty() {
        return Ok(());
    }
    for lot in known::lots(tx, lots.into_iter().collect()).await? {
        known.lots.insert(lot.code.clone(), lot);
    }
    Ok(())
}

async fn bench(
    tx: &mut Tx,
    fresh: &[&ReadableRun],
    tolerance_seconds: u32,
    known: &mut Known,
) -> Answer<()> {
    let times = || fresh.iter().map(|run| run.run.read_at.at);
    let (Some(first), Some(last)) = (times().min(), times().max()) else {
        return Ok(());
    };
    let serials: BTreeSet<&str> = fresh
        .iter()
        .map(|run| run.run.reader_serial.as_str())
        .collect();
    let reference = tx.reference().await?;
    let readers: Vec<Uuid> = serials
        .iter()
        .filter_map(|serial| reference.reader_serials.get(*serial).copied())
        .collect();
    let tolerance = TimeDelta::seconds(i64::from(tolerance_seconds));
    let span = (
        first
            .utc()
            .checked_sub_signed(tolerance)
            .unwrap_or(first.utc()),
        last.utc()
            .checked_add_signed(tolerance)
            .unwrap_or(last.utc()),
    );
    for row in known::bench(tx, readers, serials.into_iter().collect(), span).await? {
        let Ok(port) = u8::try_from(row.port) else {
            continue;
        };
        let readings = row.readings()?;
        let run = BenchRun {
            id: RunId(row.run_id),
            reader_serial: row.serial.clone(),
            port,
            sample_code: row.sample_code,
            read_at: row.read_at.into(),
            kit_lot_code: row.kit_lot_code,
            readings,
        };
        let sample = row.sample_id;
        known
            .bench
            .entry((row.serial, port))
            .or_default()
            .push(KnownBenchRun { run, sample });
    }
    Ok(())
}
