//! Certificates as records tell them, for a rebuilt copy.
//!
//! A record holds the digest of the signed bytes, not the bytes: those are taken from the live
//! document, and only where their digest is the record's. The disclosures beside them are those
//! that are left in the ledger.

use super::{Answer, ApiError, Kept, Tx, dsl, insert_stated};
use crate::{
    db::LIVE,
    schema::{certificates_document as documents, certificates_result as stated},
};
use diesel::{
    ExpressionMethods as _, OptionalExtension as _, QueryDsl as _, QueryableByName,
    sql_types::{Array, Integer, Text},
};
use diesel_async::RunQueryDsl as _;
use domain::{
    certificates::Issued,
    ledger::{Disclosure, Hash, certificate, certificate::ReadCertificate},
};
use serde_json::Value;
use uuid::Uuid;

/// How many certificates are read at a time.
const AT_ONCE: i64 = 200;

/// Stores versions, with the results that each states.
pub(crate) async fn replay(tx: &mut Tx, certificates: &[Kept<Issued>]) -> Answer<()> {
    super::replay(tx, certificates).await?;
    let ids: Vec<Uuid> = certificates.iter().map(|one| one.id).collect();
    diesel::delete(
        stated::table
            .filter(stated::laboratory_id.eq(tx.laboratory_id()))
            .filter(stated::certificate_id.eq_any(ids)),
    )
    .execute(tx.connection())
    .await?;
    for one in certificates {
        insert_stated(tx, one).await?;
    }
    Ok(())
}

/// Counts the numbers of each year: none is left out, so that the highest is how many were given.
pub(crate) async fn replay_counter(tx: &mut Tx) -> Answer<()> {
    crate::statement::statement(
        "INSERT INTO certificates_counter (laboratory_id, year, issued) \
         SELECT laboratory_id, substring(number FROM '-([0-9]+)-[0-9]+$')::smallint AS year, \
             max(substring(number FROM '-([0-9]+)$')::integer) \
         FROM certificates_certificate WHERE laboratory_id = $1 \
         GROUP BY laboratory_id, year",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .execute(tx.connection())
    .await?;
    Ok(())
}

#[derive(QueryableByName)]
struct TextRow {
    #[diesel(sql_type = Text)]
    text: String,
}

/// Puts together what is handed out of each certificate, once all records were replayed. Where
/// there are no bytes of the recorded digest, the document is empty.
pub(crate) async fn replay_documents(tx: &mut Tx) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let mut after = Uuid::nil();
    loop {
        let page: Vec<(Uuid, Value)> = dsl::certificates_certificate
            .filter(dsl::laboratory_id.eq(laboratory))
            .filter(dsl::certificate_id.gt(after))
            .order(dsl::certificate_id)
            .limit(AT_ONCE)
            .select((dsl::certificate_id, dsl::content))
            .load(tx.connection())
            .await?;
        let Some((last, _)) = page.last() else {
            return Ok(());
        };
        after = *last;
        for (id, content) in page {
            let issued: Issued = serde_json::from_value(content).map_err(ApiError::internal)?;
            let text = document_of(tx, id, &issued).await?.unwrap_or_default();
            diesel::insert_into(documents::table)
                .values((
                    documents::laboratory_id.eq(laboratory),
                    documents::certificate_id.eq(id),
                    documents::certificate.eq(text),
                ))
                .execute(tx.connection())
                .await?;
        }
    }
}

async fn document_of(tx: &mut Tx, id: Uuid, issued: &Issued) -> Answer<Option<String>> {
    let live: Option<TextRow> = crate::statement::statement(format!(
        "SELECT certificate AS text FROM {LIVE}.certificates_document \
         WHERE laboratory_id = $1 AND certificate_id = $2"
    ))
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<diesel::sql_types::Uuid, _>(id)
    .get_result(tx.connection())
    .await
    .optional()?;
    let Some(live) = live else { return Ok(None) };
    let jws = live.text.split('~').next().unwrap_or_default();
    if Hash::of(jws.as_bytes()).to_string() != issued.jws {
        return Ok(None);
    }
    let bare = certificate::assemble(jws, &[]);
    let digests = ReadCertificate::parse(&bare)
        .map_err(ApiError::internal)?
        .missing;
    let left: Vec<TextRow> = crate::statement::statement(
        "SELECT disclosure AS text FROM ledger_disclosure \
         WHERE laboratory_id = $1 AND digest = ANY($2)",
    )
    .bind::<Integer, _>(tx.laboratory_id())
    .bind::<Array<Text>, _>(digests)
    .load(tx.connection())
    .await?;
    let left = left
        .iter()
        .map(|row| Disclosure::parse(&row.text).map_err(ApiError::internal))
        .collect::<Answer<Vec<_>>>()?;
    Ok(Some(certificate::assemble(jws, &left)))
}
