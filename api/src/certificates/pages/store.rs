//! What the list of certificates reads.

use crate::{db::Tx, error::Answer, request::Page};
use chrono::{DateTime, Utc};
use diesel::{
    QueryableByName,
    sql_types::{BigInt, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use uuid::Uuid;

/// A certificate in the list.
#[derive(QueryableByName)]
pub(super) struct CertificateRow {
    #[diesel(sql_type = SqlUuid)]
    pub(super) certificate_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) number: String,
    /// Code of its check page.
    #[diesel(sql_type = Text)]
    pub(super) code: String,
    #[diesel(sql_type = SqlUuid)]
    pub(super) lot_id: Uuid,
    #[diesel(sql_type = Text)]
    pub(super) lot_code: String,
    #[diesel(sql_type = Text)]
    pub(super) state: String,
    #[diesel(sql_type = Timestamptz)]
    pub(super) created_at: DateTime<Utc>,
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    number: i64,
}

/// What a customer may see: certificates of its own lots, and of those where its part lets it.
const VISIBLE: &str = "($2::uuid IS NULL OR lot.customer_id = $2 OR EXISTS ( \
       SELECT 1 FROM lots_party AS party WHERE party.laboratory_id = $1 \
       AND party.lot_id = lot.lot_id AND party.customer_id = $2 AND party.sees <> 'nothing'))";

/// A page of certificates, newest first.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    customer: Option<Uuid>,
) -> Answer<Vec<CertificateRow>> {
    let laboratory = tx.laboratory_id();
    Ok(crate::statement::statement(format!(
        "SELECT certificate.certificate_id, certificate.number, certificate.code, certificate.lot_id, \
                lot.code AS lot_code, certificate.state, certificate.created_at \
         FROM certificates_certificate AS certificate \
         JOIN lots_lot AS lot USING (laboratory_id, lot_id) \
         WHERE laboratory_id = $1 AND {VISIBLE} AND certificate.certificate_id < $3 \
         ORDER BY certificate.certificate_id DESC LIMIT $4"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<Nullable<SqlUuid>, _>(customer)
    .bind::<SqlUuid, _>(page.after.unwrap_or(Uuid::max()))
    .bind::<BigInt, _>(page.rows())
    .load(tx.connection())
    .await?)
}

/// How many certificates stand.
pub(super) async fn issued(tx: &mut Tx, customer: Option<Uuid>) -> Answer<i64> {
    let laboratory = tx.laboratory_id();
    let counted: Count = crate::statement::statement(format!(
        "SELECT count(*) AS number FROM certificates_certificate AS certificate \
         JOIN lots_lot AS lot USING (laboratory_id, lot_id) \
         WHERE laboratory_id = $1 AND {VISIBLE} AND certificate.state = 'issued'"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<Nullable<SqlUuid>, _>(customer)
    .get_result(tx.connection())
    .await?;
    Ok(counted.number)
}
