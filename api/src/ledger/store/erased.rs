//! Disclosures as an erasure looks for them, and their deletion.

use super::ActRow;
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    schema::{ledger_act, ledger_disclosure as disclosures, ledger_version},
};
use chrono::{DateTime, Utc};
use diesel::{
    ExpressionMethods as _, QueryDsl as _,
    sql_types::{Array, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::ledger::Disclosure;
use uuid::Uuid;

/// The acts that recorded a subject, or these versions of it.
pub(crate) async fn acts_of(
    tx: &mut Tx,
    subject: Uuid,
    versions: Option<&[i32]>,
) -> Answer<Vec<Uuid>> {
    let laboratory = tx.laboratory_id();
    let mut query = ledger_version::table
        .filter(ledger_version::laboratory_id.eq(laboratory))
        .filter(ledger_version::subject_id.eq(subject))
        .select(ledger_version::act_id)
        .distinct()
        .into_boxed();
    if let Some(versions) = versions {
        query = query.filter(ledger_version::version.eq_any(versions.to_vec()));
    }
    Ok(query.load(tx.connection()).await?)
}

/// Acts with their records, by their ids.
pub(crate) async fn acts(tx: &mut Tx, ids: Vec<Uuid>) -> Answer<Vec<ActRow>> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::sql_query(
        "SELECT act_id, action, actor, recorded_at, entry, records FROM ledger_act \
         WHERE laboratory_id = $1 AND act_id = ANY($2) ORDER BY act_id",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?)
}

/// The disclosures of acts that are left, each with its act.
pub(crate) async fn disclosures_of_acts(
    tx: &mut Tx,
    acts: Vec<Uuid>,
) -> Answer<Vec<(Uuid, Disclosure)>> {
    let laboratory = tx.laboratory_id();
    let rows = disclosures::table
        .filter(disclosures::laboratory_id.eq(laboratory))
        .filter(disclosures::act_id.eq_any(acts))
        .select((disclosures::act_id, disclosures::disclosure))
        .load(tx.connection())
        .await?;
    read(rows)
}

/// The disclosures with these digests that are left, each with its act.
pub(crate) async fn disclosures_by_digest(
    tx: &mut Tx,
    digests: Vec<String>,
) -> Answer<Vec<(Uuid, Disclosure)>> {
    let laboratory = tx.laboratory_id();
    let rows = disclosures::table
        .filter(disclosures::laboratory_id.eq(laboratory))
        .filter(disclosures::digest.eq_any(digests))
        .select((disclosures::act_id, disclosures::disclosure))
        .load(tx.connection())
        .await?;
    read(rows)
}

#[derive(diesel::QueryableByName)]
struct Holding {
    #[diesel(sql_type = SqlUuid)]
    act_id: Uuid,
    #[diesel(sql_type = Text)]
    disclosure: String,
}

/// The disclosures of the laboratory in which one of these texts stands, written as JSON writes
/// it, each with its act. Every one is looked into: erasing is rare.
pub(crate) async fn disclosures_holding(
    tx: &mut Tx,
    texts: Vec<String>,
) -> Answer<Vec<(Uuid, Disclosure)>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Holding> = diesel::sql_query(
        "SELECT act_id, disclosure FROM ledger_disclosure CROSS JOIN LATERAL ( \
             SELECT convert_from(decode(rpad(translate(disclosure, '-_', '+/'), \
                 (length(disclosure) + 3) / 4 * 4, '='), 'base64'), 'UTF8') AS opened) AS it \
         WHERE laboratory_id = $1 \
           AND EXISTS (SELECT FROM UNNEST($2) AS sought (text) WHERE strpos(opened, text) > 0)",
    )
    .bind::<Integer, _>(laboratory)
    .bind::<Array<Text>, _>(texts)
    .load(tx.connection())
    .await?;
    read(
        rows.into_iter()
            .map(|row| (row.act_id, row.disclosure))
            .collect(),
    )
}

fn read(rows: Vec<(Uuid, String)>) -> Answer<Vec<(Uuid, Disclosure)>> {
    rows.into_iter()
        .map(|(act, text)| {
            let disclosure = Disclosure::parse(&text).map_err(ApiError::internal)?;
            Ok((act, disclosure))
        })
        .collect()
}

/// Deletes disclosures by their digests; the answer is how many there were.
pub(crate) async fn delete_disclosures(tx: &mut Tx, digests: Vec<String>) -> Answer<usize> {
    let laboratory = tx.laboratory_id();
    Ok(diesel::delete(
        disclosures::table
            .filter(disclosures::laboratory_id.eq(laboratory))
            .filter(disclosures::digest.eq_any(digests)),
    )
    .execute(tx.connection())
    .await?)
}

/// When an account last put its name to something: released, returned, accepted or issued.
pub(crate) async fn last_signed(tx: &mut Tx, account: Uuid) -> Answer<Option<DateTime<Utc>>> {
    const SIGNING: [&str; 5] = [
        "release-results",
        "return-results",
        "accept-hold",
        "issue-certificate",
        "amend-certificate",
    ];
    let laboratory = tx.laboratory_id();
    Ok(ledger_act::table
        .filter(ledger_act::laboratory_id.eq(laboratory))
        .filter(ledger_act::action.eq_any(SIGNING))
        .filter(
            diesel::dsl::sql::<diesel::sql_types::Bool>("actor->>'account' = ")
                .bind::<Text, _>(account.to_string()),
        )
        .select(diesel::dsl::max(ledger_act::recorded_at))
        .first(tx.connection())
        .await?)
}
