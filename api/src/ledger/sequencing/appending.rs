//! Appends pending acts to their laboratory's log.
//!
//! Promises one transaction for entries, tiles, head and queue. Refuses an act that no key of the
//! laboratory signed: the log stops before it, and says which it is.

use super::{
    compare, fail_point,
    keys::{self, KeyInLog},
    store::{self, Pending},
};
use crate::{
    app::App,
    error::{Answer, ApiError},
    identity::LaboratoryKey,
};
use diesel_async::AsyncPgConnection;
use domain::{
    id::{ActId, LaboratoryId},
    ledger::{
        Hash,
        act::ReadAct,
        rotation::{Place, SignsWhat},
    },
};

/// Most acts that are appended in one transaction: bounds memory and the time that a head is held.
const BATCH: i64 = 4_096;

/// From how many acts on their signatures are checked by every processor.
const WORTH_SHARING: usize = 64;

/// What was appended.
pub(super) enum Appended {
    /// Nothing waits.
    Nothing,
    /// The log has no checkpoint yet: the one over no entries comes first.
    NeverSigned,
    /// Another process appends here just now.
    NotOurTurn,
    /// Acts, and whether more wait.
    Some {
        /// Whether more may wait.
        more: bool,
    },
}

/// Appends what waits, as much as one transaction takes.
pub(super) async fn append_pending(app: &App, laboratory: &LaboratoryKey) -> Answer<Appended> {
    let mut connection = app.db.begin_log(laboratory).await?;
    let done = append(app, &mut connection, laboratory).await;
    let keep = matches!(done, Ok(Appended::Some { .. }));
    app.db.end_log(connection, keep).await?;
    if keep {
        fail_point::reach("appended");
    }
    done
}

async fn append(
    app: &App,
    connection: &mut AsyncPgConnection,
    laboratory: &LaboratoryKey,
) -> Answer<Appended> {
    if !store::claim(connection, laboratory.number).await? {
        return Ok(Appended::NotOurTurn);
    }
    let log = store::lock_log(connection, laboratory.number).await?;
    let suspension = compare(&app.db, connection, laboratory, &log).await?;
    let is_suspended = suspension.is_some();
    app.db.standing().found(laboratory.number, suspension);
    if is_suspended {
        return Ok(Appended::Nothing);
    }
    if log.signed_size.is_none() {
        return Ok(Appended::NeverSigned);
    }
    let acts = store::pending(connection, laboratory.number, BATCH).await?;
    if acts.is_empty() {
        return Ok(Appended::Nothing);
    }
    let is_full = i64::try_from(acts.len()) == Ok(BATCH);
    let known = keys::of(connection, laboratory.number).await?;
    let begins = Place {
        log: u32::try_from(log.number).map_err(ApiError::internal)?,
        entry: log.head.size(),
    };
    let told = keys::told(&known, begins, &acts);
    let id = laboratory.id;
    let checked = actix_web::web::block(move || check(id, begins, &told, acts))
        .await
        .map_err(ApiError::internal)?;
    if let (true, Some(refused)) = (checked.acts.is_empty(), &checked.refused) {
        return Err(ApiError::internal(format!(
            "the log {} stops before an act that does not hold: {refused}",
            log.origin
        )));
    }
    let mut head = log.head.clone();
    let mut full = Vec::new();
    for leaf in &checked.leaves {
        head.append(*leaf, &mut full);
    }
    store::append(
        connection,
        laboratory.number,
        &log,
        &head,
        &checked.acts,
        &full,
    )
    .await?;
    keys::keep_what_was_told(connection, laboratory.number, &known, begins, &checked.acts).await?;
    fail_point::reach("appending");
    Ok(Appended::Some {
        more: is_full && checked.refused.is_none(),
    })
}

/// The acts that hold, up to the first that does not.
struct Checked {
    acts: Vec<Pending>,
    leaves: Vec<Hash>,
    refused: Option<String>,
}

/// Checks each act's form, id, laboratory and signature, and hashes it. The first of them becomes
/// the entry at `begins`.
fn check(
    laboratory: LaboratoryId,
    begins: Place,
    keys: &[KeyInLog],
    mut acts: Vec<Pending>,
) -> Checked {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let share = if acts.len() < WORTH_SHARING {
        acts.len().max(1)
    } else {
        acts.len().div_ceil(threads)
    };
    let found: Vec<Result<Hash, String>> = std::thread::scope(|scope| {
        let parts: Vec<_> = keys::placed(begins, &acts)
            .chunks(share)
            .map(|part| part.to_vec())
            .map(|part| {
                scope.spawn(move || -> Vec<Result<Hash, String>> {
                    part.into_iter()
                        .map(|(at, act)| check_one(laboratory, keys, at, act))
                        .collect()
                })
            })
            .collect();
        parts
            .into_iter()
            .flat_map(|part| {
                part.join()
                    .unwrap_or_else(|_panic| vec![Err("its check failed".to_owned())])
            })
            .collect()
    });
    let mut leaves = Vec::with_capacity(acts.len());
    let mut refused = None;
    for one in found {
        match one {
            Ok(leaf) => leaves.push(leaf),
            Err(why) => {
                refused = Some(why);
                break;
            }
        }
    }
    acts.truncate(leaves.len());
    Checked {
        acts,
        leaves,
        refused,
    }
}

fn check_one(
    laboratory: LaboratoryId,
    keys: &[KeyInLog],
    at: Place,
    pending: &Pending,
) -> Result<Hash, String> {
    let refuse = |why: &str| format!("act {}: {why}", pending.act_id);
    let read = ReadAct::parse(&pending.entry).map_err(|error| refuse(&error.to_string()))?;
    if read.act.id != ActId(pending.act_id) {
        return Err(refuse("its signed bytes are those of another act"));
    }
    if read.act.laboratory != laboratory {
        return Err(refuse("its signed bytes are another laboratory's"));
    }
    let key = keys
        .iter()
        .find(|key| key.signs_what == SignsWhat::Record && key.kid == read.kid)
        .ok_or_else(|| refuse("no key of the laboratory has the name that it was signed with"))?;
    if !key.span.is_good_at(at) {
        let why = format!(
            "the key that it was signed with is not good at entry {}",
            at.entry
        );
        return Err(refuse(&why));
    }
    read.verify(&key.public)
        .map_err(|error| refuse(&error.to_string()))?;
    Ok(Hash::of_leaf(pending.entry.as_bytes()))
}
