//! The rows that show what is erased, made again without it: each slice writes its own.

use crate::{
    certificates, column_maps, control_materials, corrections, customers,
    db::Tx,
    equipment,
    error::{Answer, ApiError},
    holds, identity, imports, kit_lots, limits, lots, orders, preparations, procedures, readers,
    results, reviews, runs, samples, samplings, screening_validations, series, sites,
};
use domain::erasures::{ErasedMember, HeldIn};
use std::collections::BTreeMap;
use uuid::Uuid;

/// Clears the rows, and what is handed out of certificates.
///
/// # Errors
/// [`ApiError::Internal`] where a row could not be read any more afterwards.
pub(super) async fn clear(tx: &mut Tx, erased: &[ErasedMember]) -> Answer<()> {
    let mut rows: BTreeMap<(String, Uuid, u32), Vec<ErasedMember>> = BTreeMap::new();
    let mut signed: BTreeMap<Uuid, Vec<String>> = BTreeMap::new();
    for one in erased {
        let (Some(kind), Some(subject), Some(version)) = (&one.kind, one.subject, one.version)
        else {
            continue;
        };
        match one.held_in {
            HeldIn::Record => rows
                .entry((kind.clone(), subject, version))
                .or_default()
                .push(one.clone()),
            HeldIn::Certificate => signed.entry(subject).or_default().push(one.digest.clone()),
            HeldIn::Act => {}
        }
    }
    for ((kind, subject, version), members) in rows {
        let version = i32::try_from(version).map_err(ApiError::internal)?;
        row(tx, &kind, subject, version, &members).await?;
    }
    for (certificate, digests) in signed {
        certificates::take_out(tx, certificate, &digests).await?;
    }
    Ok(())
}

async fn row(
    tx: &mut Tx,
    kind: &str,
    id: Uuid,
    version: i32,
    erased: &[ErasedMember],
) -> Answer<()> {
    match kind {
        "account" => identity::erase_account(tx, id, version, erased).await,
        "certificate" => certificates::erase(tx, id, version, erased).await,
        "client" => identity::erase_client(tx, id, version, erased).await,
        "column-map" => column_maps::store::erase(tx, id, version, erased).await,
        "control-material" => control_materials::store::erase(tx, id, version, erased).await,
        "correction" => corrections::erase(tx, id, version, erased).await,
        "customer" => customers::store::erase(tx, id, version, erased).await,
        "equipment" => equipment::store::erase(tx, id, version, erased).await,
        "equipment-check" => equipment::store::checks::erase(tx, id, version, erased).await,
        "hold" => holds::store::erase(tx, id, version, erased).await,
        "import-row" => imports::erase_row(tx, id, version, erased).await,
        "kit-lot" => kit_lots::store::erase(tx, id, version, erased).await,
        "limit" => limits::store::erase(tx, id, version, erased).await,
        "lot" => lots::store::erase(tx, id, version, erased).await,
        "order" => orders::store::erase(tx, id, version, erased).await,
        "preparation" => preparations::store::erase(tx, id, version, erased).await,
        "procedure" => procedures::store::erase(tx, id, version, erased).await,
        "reader" => readers::store::erase(tx, id, version, erased).await,
        "result" => results::store::erase(tx, id, version, erased).await,
        "review" => reviews::store::erase(tx, id, version, erased).await,
        "run" => runs::store::erase(tx, id, version, erased).await,
        "sample" => samples::store::erase(tx, id, version, erased).await,
        "sampling" => samplings::store::erase(tx, id, version, erased).await,
        "screening-review" => {
            screening_validations::store::reviews::erase(tx, id, version, erased).await
        }
        "screening-validation" => {
            screening_validations::store::erase(tx, id, version, erased).await
        }
        "series" => series::store::erase(tx, id, version, erased).await,
        "site" => sites::store::erase(tx, id, version, erased).await,
        other => Err(ApiError::internal(format!(
            "nobody says how rows of kind \"{other}\" are made again without what is erased"
        ))),
    }
}
