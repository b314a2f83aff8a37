//! Examines the acts of an archive on every core, and chains them in their order.
//!
//! Promises the outcome that one core would have: what is found comes in the order of the entries.

use super::{
    opened::{Opened, Refused},
    pairing::{Paired, Pairing},
    spool::{Index, Place, Spool, Stretch},
};
use domain::{
    ledger::{
        archive::{Chain, Examined, Expected, KindSeen, Manifest, examine},
        trust::Trust,
    },
    versions::SubjectVersion,
};
use std::{
    collections::BTreeMap,
    fs::File,
    num::NonZero,
    sync::{
        Mutex, PoisonError,
        mpsc::{Receiver, SyncSender, sync_channel},
    },
    thread,
};

/// How many acts, and about how many bytes, are examined at once.
const ACTS: usize = 128;
const BYTES: usize = 1024 * 1024;

/// Acts that follow each other, and their place in the whole.
struct Batch {
    place: u64,
    acts: Vec<Paired>,
}

/// What was seen of the acts of a batch, and where their records are kept aside.
type Done = (u64, Vec<(Examined, Vec<Stretch>)>);

/// How many threads work: one a core.
pub(super) fn cores() -> usize {
    thread::available_parallelism().map_or(1, NonZero::get)
}

/// Checks every act, and what is between them.
pub(super) fn check_acts(
    opened: &Opened,
    manifest: &Manifest,
    trust: &Trust,
    chain: &mut Chain,
    spool: Option<Spool>,
) -> Result<Option<(Index, File)>, Refused> {
    let (entries, records) = (
        opened.lines("entries.jsonl")?,
        opened.lines("records.jsonl")?,
    );
    let mut pairing = Pairing::new(entries, records, spool);
    let mut index = Index::default();
    let expected = Expected {
        laboratory: manifest.laboratory,
        log: manifest.log,
        trust: Some(trust),
    };
    let workers = cores();
    let (hand_out, take) = sync_channel::<Batch>(workers.saturating_mul(2));
    let (give_back, collect) = sync_channel::<Done>(workers.saturating_mul(2));
    let take = Mutex::new(take);
    thread::scope(|scope| {
        for _ in 0..workers {
            let (give_back, take) = (give_back.clone(), &take);
            scope.spawn(move || work(&expected, take, &give_back));
        }
        drop(give_back);
        let reader = scope.spawn(|| deal(&mut pairing, hand_out));
        in_order(&collect, chain, &mut index);
        reader
            .join()
            .unwrap_or_else(|_panic| Err(Refused::Other("a thread that reads broke off".into())))
    })?;
    let (findings, file) = pairing.finish()?;
    findings.into_iter().for_each(|finding| chain.find(finding));
    Ok(file.map(|file| (index, file)))
}

/// Hands out the acts in batches.
fn deal(pairing: &mut Pairing, hand_out: SyncSender<Batch>) -> Result<(), Refused> {
    let mut place: u64 = 0;
    loop {
        let (mut acts, mut bytes) = (Vec::with_capacity(ACTS), 0_usize);
        while acts.len() < ACTS && bytes < BYTES {
            let Some(pair) = pairing.next_pair()? else {
                break;
            };
            bytes = bytes.saturating_add(pair.bytes());
            acts.push(pair);
        }
        if acts.is_empty() || hand_out.send(Batch { place, acts }).is_err() {
            return Ok(());
        }
        place = place.saturating_add(1);
    }
}

fn work(expected: &Expected<'_>, take: &Mutex<Receiver<Batch>>, give_back: &SyncSender<Done>) {
    loop {
        let taken = take.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok(batch) = taken else { return };
        let examined = batch
            .acts
            .into_iter()
            .map(|act| {
                let records: Vec<&str> = act.records.iter().map(String::as_str).collect();
                let examined = examine(expected, act.number, &act.entry, &records);
                (examined, act.kept)
            })
            .collect();
        if give_back.send((batch.place, examined)).is_err() {
            return;
        }
    }
}

/// Chains what comes back, in the order of the entries.
fn in_order(collect: &Receiver<Done>, chain: &mut Chain, index: &mut Index) {
    let mut waiting = BTreeMap::new();
    let mut next: u64 = 0;
    for (place, examined) in collect {
        waiting.insert(place, examined);
        while let Some(examined) = waiting.remove(&next) {
            for (act, kept) in examined {
                note(index, &act, &kept);
                chain.add(act);
            }
            next = next.saturating_add(1);
        }
    }
}

/// Notes where the versions of an act are kept aside.
fn note(index: &mut Index, act: &Examined, kept: &[Stretch]) {
    let (Some(entry), Some(time)) = (act.index, act.time) else {
        return;
    };
    for seen in &act.versions {
        let stretch = usize::try_from(seen.position)
            .ok()
            .and_then(|position| kept.get(position));
        let (Some(stretch), Ok(version)) = (stretch, u32::try_from(seen.version)) else {
            continue;
        };
        let source = SubjectVersion {
            subject: seen.subject,
            version,
        };
        let place = Place {
            stretch: *stretch,
            entry,
            time,
        };
        let derived = match seen.kind {
            KindSeen::Result | KindSeen::Hold | KindSeen::Screening => true,
            KindSeen::Entered => false,
        };
        index.add(source, place, derived);
    }
}
