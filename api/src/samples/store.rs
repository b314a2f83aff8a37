//! All SQL of samples and their barcodes.
//!
//! Promises that the rows of the barcodes say what the sample says; refuses a barcode that is on
//! another sample.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::{Kept, Subject},
    request::Page,
    schema::{lots_lot::dsl as lot, samples_barcode::dsl as label, samples_sample::dsl},
};
use diesel::sql_types::{Array, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel::{
    BoolExpressionMethods as _, ExpressionMethods as _, NullableExpressionMethods as _,
    QueryDsl as _, SelectableHelper as _,
};
use diesel_async::RunQueryDsl as _;
use domain::{
    samples::{DISCLOSED, Purpose, Sample},
    time::Moment,
};
use rows::{Row, insert as insert_row, replay as replay_rows, save as save_row};
pub(crate) use rows::{erase, find, lock};
use uuid::Uuid;

impl Subject for Sample {
    const KIND: &'static str = "sample";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

mod rows {
    use super::purpose;
    use domain::samples::Sample;
    use uuid::Uuid;

    crate::keep_rows! {
        table: samples_sample,
        key: sample_id,
        content: Sample,
        called: "sample",
        columns: {
            code: String = |sample| sample.code.clone(),
            purpose: String = |sample| purpose(sample.purpose).to_owned(),
            lot_id: Option<Uuid> = |sample| sample.lot.map(Uuid::from),
            sampling_id: Option<Uuid> = |sample| sample.sampling.map(Uuid::from),
            order_id: Option<Uuid> = |sample| sample.order.map(Uuid::from),
            control_material_id: Option<Uuid> = |sample| sample.control_material.map(Uuid::from),
            site_id: Option<Uuid> = |sample| sample.site.map(Uuid::from),
            received_at: chrono::DateTime<chrono::Utc> = |sample| sample.received_at.utc(),
        }
    }
}

/// Which samples are asked for.
#[derive(Debug, Default, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct SampleFilter {
    /// Only those of this lot.
    pub lot: Option<Uuid>,
    /// Only those under this order, be it their own or their lot's.
    pub order: Option<Uuid>,
    /// Only those of this customer's lots.
    pub customer: Option<Uuid>,
    /// Only those at this site.
    pub site: Option<Uuid>,
    /// Only those for this purpose.
    pub purpose: Option<Purpose>,
    /// Only the one with this code.
    pub code: Option<String>,
    /// Only the one with this barcode.
    pub barcode: Option<String>,
    /// Only those that the laboratory got at this moment or later.
    pub received_from: Option<Moment>,
    /// Only those that the laboratory got before this moment.
    pub received_before: Option<Moment>,
}

const fn purpose(purpose: Purpose) -> &'static str {
    match purpose {
        Purpose::Customer => "customer",
        Purpose::Control => "control",
        Purpose::Proficiency => "proficiency",
        Purpose::KitAcceptance => "kit-acceptance",
        Purpose::Competence => "competence",
        Purpose::Validation => "validation",
    }
}

/// Stores version 1 with its barcodes and records it.
pub(crate) async fn insert(tx: &mut Tx, kept: &Kept<Sample>) -> Answer<()> {
    insert_row(tx, kept).await?;
    insert_barcodes(tx, kept).await
}

/// Stores a later version with its barcodes and records it.
pub(crate) async fn save(tx: &mut Tx, kept: &Kept<Sample>) -> Answer<()> {
    save_row(tx, kept).await?;
    delete_barcodes(tx, &[kept.id]).await?;
    insert_barcodes(tx, kept).await
}

/// Stores versions as records tell them, with their barcodes. Those of all are taken off first: a
/// barcode may have moved from one to another.
pub(crate) async fn replay(tx: &mut Tx, samples: &[Kept<Sample>]) -> Answer<()> {
    replay_rows(tx, samples).await?;
    delete_barcodes(tx, &samples.iter().map(|one| one.id).collect::<Vec<_>>()).await?;
    for sample in samples {
        insert_barcodes(tx, sample).await?;
    }
    Ok(())
}

async fn delete_barcodes(tx: &mut Tx, samples: &[Uuid]) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::delete(
        label::samples_barcode
            .filter(label::laboratory_id.eq(laboratory))
            .filter(label::sample_id.eq_any(samples)),
    )
    .execute(tx.connection())
    .await?;
    Ok(())
}

const INSERT: &str = "\
    INSERT INTO samples_sample (laboratory_id, sample_id, version, state, content, code, purpose, \
        lot_id, sampling_id, order_id, control_material_id, site_id, received_at, created_at, \
        changed_at) \
    SELECT $1, sample_id, 1, state, content::jsonb, code, purpose, lot_id, sampling_id, order_id, \
        control_material_id, site_id, received_at, $2, $2 \
    FROM UNNEST($3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) AS new (sample_id, state, \
        content, code, purpose, lot_id, sampling_id, order_id, control_material_id, site_id, \
        received_at)";

/// How many samples are written by one statement.
const AT_ONCE: usize = 1000;

/// Stores first versions of many samples without barcodes, and records them.
pub(crate) async fn insert_many(tx: &mut Tx, samples: &[Kept<Sample>]) -> Answer<()> {
    let (laboratory, now) = (tx.laboratory_id(), tx.now().utc());
    for chunk in samples.chunks(AT_ONCE) {
        let mut contents = Vec::with_capacity(chunk.len());
        for sample in chunk {
            contents.push(serde_json::to_string(&sample.content).map_err(ApiError::internal)?);
            sample.record(tx)?;
        }
        let of = |get: fn(&Sample) -> Option<Uuid>| -> Vec<Option<Uuid>> {
            chunk.iter().map(|one| get(&one.content)).collect()
        };
        let text = |get: fn(&Sample) -> &str| -> Vec<&str> {
            chunk.iter().map(|one| get(&one.content)).collect()
        };
        diesel::sql_query(INSERT)
            .bind::<Integer, _>(laboratory)
            .bind::<Timestamptz, _>(now)
            .bind::<Array<SqlUuid>, _>(chunk.iter().map(|one| one.id).collect::<Vec<_>>())
            .bind::<Array<Text>, _>(text(|one| Subject::state(one)))
            .bind::<Array<Text>, _>(contents)
            .bind::<Array<Text>, _>(text(|one| &one.code))
            .bind::<Array<Text>, _>(text(|one| purpose(one.purpose)))
            .bind::<Array<Nullable<SqlUuid>>, _>(of(|one| one.lot.map(Uuid::from)))
            .bind::<Array<Nullable<SqlUuid>>, _>(of(|one| one.sampling.map(Uuid::from)))
            .bind::<Array<Nullable<SqlUuid>>, _>(of(|one| one.order.map(Uuid::from)))
            .bind::<Array<Nullable<SqlUuid>>, _>(of(|one| one.control_material.map(Uuid::from)))
            .bind::<Array<Nullable<SqlUuid>>, _>(of(|one| one.site.map(Uuid::from)))
            .bind::<Array<Timestamptz>, _>(
                chunk
                    .iter()
                    .map(|one| one.content.received_at.utc())
                    .collect::<Vec<_>>(),
            )
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}

async fn insert_barcodes(tx: &mut Tx, kept: &Kept<Sample>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let barcodes: Vec<_> = kept
        .content
        .barcodes
        .iter()
        .map(|barcode| {
            (
                label::laboratory_id.eq(laboratory),
                label::barcode.eq(barcode),
                label::sample_id.eq(kept.id),
            )
        })
        .collect();
    if !barcodes.is_empty() {
        diesel::insert_into(label::samples_barcode)
            .values(barcodes)
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}

/// A page of samples, newest first.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &SampleFilter,
) -> Answer<Vec<Kept<Sample>>> {
    let laboratory = tx.laboratory_id();
    let lots = || lot::lots_lot.filter(lot::laboratory_id.eq(laboratory));
    let mut query = dsl::samples_sample
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::sample_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::sample_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(lot) = filter.lot {
        query = query.filter(dsl::lot_id.eq(lot));
    }
    if let Some(order) = filter.order {
        let under = lots()
            .filter(lot::order_id.eq(order))
            .select(lot::lot_id.nullable());
        let own = dsl::order_id.eq(order);
        let lots_own = dsl::order_id.is_null().and(dsl::lot_id.eq_any(under));
        query = query.filter(own.or(lots_own));
    }
    if let Some(customer) = filter.customer {
        let theirs = lots()
            .filter(lot::customer_id.eq(customer))
            .select(lot::lot_id.nullable());
        query = query.filter(dsl::lot_id.eq_any(theirs));
    }
    if let Some(site) = filter.site {
        query = query.filter(dsl::site_id.eq(site));
    }
    if let Some(wanted) = filter.purpose {
        query = query.filter(dsl::purpose.eq(purpose(wanted)));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code));
    }
    if let Some(barcode) = &filter.barcode {
        let labelled = label::samples_barcode
            .filter(label::laboratory_id.eq(laboratory))
            .filter(label::barcode.eq(barcode))
            .select(label::sample_id);
        query = query.filter(dsl::sample_id.eq_any(labelled));
    }
    if let Some(from) = filter.received_from {
        query = query.filter(dsl::received_at.ge(from.utc()));
    }
    if let Some(before) = filter.received_before {
        query = query.filter(dsl::received_at.lt(before.utc()));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
