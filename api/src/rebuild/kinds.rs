//! Every kind of record, and how its records become rows again. A test refuses a kind that the
//! slices append and that is not here.

use crate::{
    certificates, column_maps, control_materials, corrections, customers,
    db::Tx,
    equipment, erasures,
    error::{Answer, ApiError},
    holds, identity, imports,
    kept::{Kept, Subject},
    kit_lots, laboratories, ledger, limits, lots, orders, preparations, procedures, readers,
    results, reviews, runs, samples, samplings, screening_validations, series, sites,
};
use futures_util::{FutureExt as _, future::LocalBoxFuture};
use serde_json::Value;

/// Writes the rows of some versions, which are of one kind.
type Replay = for<'t> fn(&'t mut Tx, Vec<Kept<Value>>) -> LocalBoxFuture<'t, Answer<()>>;

/// How the records of a kind become rows.
#[derive(Clone, Copy)]
pub(super) enum Rows {
    /// By the newest version of each subject.
    Newest(Replay),
    /// By every version, in order.
    Every(Replay),
    /// By none, for this reason.
    None,
}

/// The contents, each as its slice reads it.
fn read<T: Subject>(versions: Vec<Kept<Value>>) -> Answer<Vec<Kept<T>>> {
    versions
        .into_iter()
        .map(|kept| {
            let content = serde_json::from_value(kept.content).map_err(|fault| {
                ApiError::internal(format!(
                    "the record of {} {}, version {}, cannot be read: {fault}",
                    T::KIND,
                    kept.id,
                    kept.version
                ))
            })?;
            Ok(Kept {
                id: kept.id,
                version: kept.version,
                content,
                created_at: kept.created_at,
                changed_at: kept.changed_at,
            })
        })
        .collect()
}

macro_rules! by {
    ($($replay:ident)::+) => {
        |tx, versions| async move { $($replay)::+(tx, &read(versions)?).await }.boxed_local()
    };
}

/// Which kinds there are, in the order of their names.
pub(super) const KINDS: &[(&str, Rows)] = &[
    ("account", Rows::Newest(by!(identity::replay_accounts))),
    ("certificate", Rows::Newest(by!(certificates::replay))),
    ("client", Rows::Newest(by!(identity::replay_clients))),
    ("column-map", Rows::Newest(by!(column_maps::store::replay))),
    (
        "control-material",
        Rows::Newest(by!(control_materials::store::replay)),
    ),
    ("correction", Rows::Newest(by!(corrections::replay))),
    ("customer", Rows::Newest(by!(customers::store::replay))),
    ("equipment", Rows::Newest(by!(equipment::store::replay))),
    (
        "equipment-check",
        Rows::Newest(by!(equipment::store::checks::replay)),
    ),
    ("erasure", Rows::Newest(by!(erasures::store::replay))),
    ("hold", Rows::Newest(by!(holds::store::replay))),
    ("import", Rows::Newest(by!(imports::replay))),
    ("import-row", Rows::Newest(by!(imports::replay_rows))),
    (
        "key",
        Rows::Newest(|tx, keys| async move { ledger::replay_keys(tx, &keys).await }.boxed_local()),
    ),
    ("kit-lot", Rows::Newest(by!(kit_lots::store::replay))),
    ("laboratory", Rows::Newest(by!(laboratories::store::replay))),
    ("limit", Rows::Newest(by!(limits::store::replay))),
    (
        "log",
        Rows::Newest(|tx, logs| async move { ledger::replay_logs(tx, &logs).await }.boxed_local()),
    ),
    ("lot", Rows::Newest(by!(lots::store::replay))),
    ("order", Rows::Newest(by!(orders::store::replay))),
    // Says that a password changed; the password's hash is in no record.
    ("password-change", Rows::None),
    (
        "preparation",
        Rows::Newest(by!(preparations::store::replay)),
    ),
    ("procedure", Rows::Newest(by!(procedures::store::replay))),
    ("reader", Rows::Newest(by!(readers::store::replay))),
    (
        "result",
        Rows::Every(by!(results::store::replayed::replay_every)),
    ),
    (
        "review",
        Rows::Newest(by!(reviews::store::replay_with_results)),
    ),
    ("run", Rows::Newest(by!(runs::store::replay))),
    ("sample", Rows::Newest(by!(samples::store::replay))),
    ("sampling", Rows::Newest(by!(samplings::store::replay))),
    (
        "screening-review",
        Rows::Newest(by!(screening_validations::store::reviews::replay)),
    ),
    (
        "screening-validation",
        Rows::Newest(by!(screening_validations::store::replay)),
    ),
    ("series", Rows::Newest(by!(series::store::replay))),
    // Both stand in the ledger alone; how many were refused is counted until a good one.
    ("sign-in", Rows::None),
    ("signature-attempt", Rows::None),
    ("site", Rows::Newest(by!(sites::store::replay))),
];

/// How the records of a kind become rows.
///
/// # Errors
/// [`ApiError::Internal`] where there is no such kind.
pub(super) fn rows_of(kind: &str) -> Answer<Rows> {
    KINDS
        .iter()
        .find(|(known, _)| *known == kind)
        .map(|(_, rows)| *rows)
        .ok_or_else(|| {
            ApiError::internal(format!("there are records of an unknown kind \"{kind}\""))
        })
}

/// The names of all kinds.
pub fn kinds() -> impl Iterator<Item = &'static str> {
    KINDS.iter().map(|(kind, _)| *kind)
}
