//! Appends pending acts to their laboratory's log.
//!
//! Promises one transaction for entries, tiles, head and queue. Refuses an act that no key of the
//! laboratory signed: the log stops before it, and says which it is.

use super::{
    compare, fail_point,
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
    ledger::{Hash, PublicKey, act::ReadAct},
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
    let keys = named_keys(connection, laboratory.number).await?;
    let id = laboratory.id;
    let checked = actix_web::web::block(move || check(id, &keys, acts))
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
    fail_point::reach("appending");
    Ok(Appended::Some {
        more: is_full && checked.refused.is_none(),
    })
}

/// A record key and its name, the thumbprint.
type NamedKey = (String, PublicKey);

async fn named_keys(connection: &mut AsyncPgConnection, laboratory: i32) -> Answer<Vec<NamedKey>> {
    store::record_keys(connection, laboratory)
        .await?
        .iter()
        .map(|bytes| {
            let key = PublicKey::from_bytes(bytes).map_err(ApiError::internal)?;
            Ok((key.kid(), key))
        })
        .collect()
}

/// The acts that hold, up to the first that does not.
struct Checked {
    acts: Vec<Pending>,
    leaves: Vec<Hash>,
    refused: Option<String>,
}

/// Checks each act's form, id, laboratory and signature, and hashes it.
fn check(laboratory: LaboratoryId, keys: &[NamedKey], mut acts: Vec<Pending>) -> Checked {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let share = if acts.len() < WORTH_SHARING {
        acts.len().max(1)
    } else {
        acts.len().div_ceil(threads)
    };
    let found: Vec<Result<Hash, String>> = std::thread::scope(|scope| {
        let parts: Vec<_> = acts
            .chunks(share)
            .map(|part| {
                scope.spawn(move || -> Vec<Result<Hash, String>> {
                    part.iter()
                        .map(|act| check_one(laboratory, keys, act))
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
    keys: &[NamedKey],
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
    let (_, key) = keys
        .iter()
        .find(|(kid, _)| *kid == read.kid)
        .ok_or_else(|| refuse("no key of the laboratory has the name that it was signed with"))?;
    read.verify(key)
        .map_err(|error| refuse(&error.to_string()))?;
    Ok(Hash::of_leaf(pending.entry.as_bytes()))
}
