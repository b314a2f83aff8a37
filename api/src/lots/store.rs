//! All SQL of lots and their parties.
//!
//! Promises that the rows of the parties say what the lot says; refuses to store one without the
//! other.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::{Kept, Subject},
    request::Page,
    schema::{lots_lot::dsl, lots_party::dsl as party},
    vocabulary,
};
use chrono::NaiveDate;
use diesel::{
    BoolExpressionMethods as _, ExpressionMethods as _, OptionalExtension as _, QueryDsl as _,
    SelectableHelper as _,
};
use diesel_async::RunQueryDsl as _;
use domain::{
    id::CustomerId,
    lots::{DISCLOSED, Lot, PartyRole, Sees},
};
use rows::{Row, insert as insert_row, replay as replay_rows, save as save_row};
pub(crate) use rows::{erase, find, lock};
use uuid::Uuid;

impl Subject for Lot {
    const KIND: &'static str = "lot";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

mod rows {
    use domain::lots::Lot;
    use uuid::Uuid;

    crate::keep_rows! {
        table: lots_lot,
        key: lot_id,
        content: Lot,
        called: "lot",
        columns: {
            code: String = |lot| lot.code.clone(),
            parent_id: Option<Uuid> = |lot| lot.parent.map(Uuid::from),
            order_id: Option<Uuid> = |lot| lot.order.map(Uuid::from),
            customer_id: Option<Uuid> = |lot| lot.customer.map(Uuid::from),
            commodity: String = |lot| lot.commodity.clone(),
            arrived_on: chrono::NaiveDate = |lot| lot.arrived_on,
        }
    }
}

/// Which lots are asked for.
#[derive(Debug, Default, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct LotFilter {
    /// Only those of this customer, or in which it has a part.
    pub customer: Option<Uuid>,
    /// Only those under this order.
    pub order: Option<Uuid>,
    /// Only sublots of this lot.
    pub parent: Option<Uuid>,
    /// Only those of this commodity, or of one that the vocabulary has below it.
    pub commodity: Option<String>,
    /// Only those that arrived on this day or later.
    pub arrived_from: Option<NaiveDate>,
    /// Only those that arrived on this day or earlier.
    pub arrived_to: Option<NaiveDate>,
    /// Only the one with this code.
    pub code: Option<String>,
}

/// Stores version 1 with its parties and records it.
pub(crate) async fn insert(tx: &mut Tx, kept: &Kept<Lot>) -> Answer<()> {
    insert_row(tx, kept).await?;
    insert_parties(tx, kept).await
}

/// Stores a later version with its parties and records it.
pub(crate) async fn save(tx: &mut Tx, kept: &Kept<Lot>) -> Answer<()> {
    save_row(tx, kept).await?;
    delete_parties(tx, &[kept.id]).await?;
    insert_parties(tx, kept).await
}

/// Stores versions as records tell them, with their parties.
pub(crate) async fn replay(tx: &mut Tx, lots: &[Kept<Lot>]) -> Answer<()> {
    replay_rows(tx, lots).await?;
    delete_parties(tx, &lots.iter().map(|lot| lot.id).collect::<Vec<_>>()).await?;
    for lot in lots {
        insert_parties(tx, lot).await?;
    }
    Ok(())
}

/// Those of some lots that are there.
pub(crate) async fn of_ids(tx: &mut Tx, ids: &[Uuid]) -> Answer<Vec<Kept<Lot>>> {
    let rows: Vec<Row> = dsl::lots_lot
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::lot_id.eq_any(ids))
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

async fn delete_parties(tx: &mut Tx, lots: &[Uuid]) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    diesel::delete(
        party::lots_party
            .filter(party::laboratory_id.eq(laboratory))
            .filter(party::lot_id.eq_any(lots)),
    )
    .execute(tx.connection())
    .await?;
    Ok(())
}

async fn insert_parties(tx: &mut Tx, kept: &Kept<Lot>) -> Answer<()> {
    let laboratory = tx.laboratory_id();
    let parties: Vec<_> = kept
        .content
        .parties
        .iter()
        .map(|one| {
            (
                party::laboratory_id.eq(laboratory),
                party::lot_id.eq(kept.id),
                party::customer_id.eq(one.customer.0),
                party::role.eq(role(one.role)),
                party::sees.eq(sees(one.sees)),
            )
        })
        .collect();
    if !parties.is_empty() {
        diesel::insert_into(party::lots_party)
            .values(parties)
            .execute(tx.connection())
            .await?;
    }
    Ok(())
}

const fn role(role: PartyRole) -> &'static str {
    match role {
        PartyRole::Seller => "seller",
        PartyRole::Buyer => "buyer",
        PartyRole::Agent => "agent",
    }
}

const fn sees(sees: Sees) -> &'static str {
    match sees {
        Sees::Nothing => "nothing",
        Sees::Certificates => "certificates",
        Sees::Results => "results",
    }
}

/// The lots that this one is a sublot of, its parent first, held as they are until the transaction
/// ends: of two changes that would close a circle together, one waits for the other and sees it.
pub(super) async fn parents(tx: &mut Tx, lot: &Lot) -> Answer<Vec<Kept<Lot>>> {
    let laboratory = tx.laboratory_id();
    let mut chain: Vec<Kept<Lot>> = Vec::new();
    let mut next = lot.parent;
    while let Some(id) = next {
        let found: Option<Row> = dsl::lots_lot
            .filter(dsl::laboratory_id.eq(laboratory))
            .filter(dsl::lot_id.eq(id.0))
            .select(Row::as_select())
            .for_share()
            .first(tx.connection())
            .await
            .optional()?;
        let parent = found.ok_or_else(|| ApiError::missing("lot", id))?.kept()?;
        let known = chain.iter().any(|above| above.id == parent.id);
        next = parent.content.parent.filter(|_| !known);
        chain.push(parent);
    }
    Ok(chain)
}

/// The sublots of a lot.
pub(super) async fn sublots(tx: &mut Tx, lot: Uuid) -> Answer<Vec<Kept<Lot>>> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<Row> = dsl::lots_lot
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::parent_id.eq(lot))
        .select(Row::as_select())
        .load(tx.connection())
        .await?;
    rows.into_iter().map(Row::kept).collect()
}

/// A page of lots, newest first; for a customer, only those that it may know of.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &LotFilter,
    only: Option<CustomerId>,
) -> Answer<Vec<Kept<Lot>>> {
    let laboratory = tx.laboratory_id();
    let with_part = |customer: Uuid| {
        party::lots_party
            .filter(party::laboratory_id.eq(laboratory))
            .filter(party::customer_id.eq(customer))
            .select(party::lot_id)
    };
    let mut query = dsl::lots_lot
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::lot_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::lot_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(CustomerId(customer)) = only {
        let granted = with_part(customer).filter(party::sees.ne(sees(Sees::Nothing)));
        let own = dsl::customer_id.eq(customer);
        query = query.filter(own.or(dsl::lot_id.eq_any(granted)));
    }
    if let Some(customer) = filter.customer {
        let own = dsl::customer_id.eq(customer);
        // A customer asks after its own part only: whose goods they are is not for it to learn.
        query = match only {
            Some(CustomerId(me)) if me != customer => query.filter(dsl::lot_id.eq(Uuid::nil())),
            Some(_) | None => query.filter(own.or(dsl::lot_id.eq_any(with_part(customer)))),
        };
    }
    if let Some(order) = filter.order {
        query = query.filter(dsl::order_id.eq(order));
    }
    if let Some(parent) = filter.parent {
        query = query.filter(dsl::parent_id.eq(parent));
    }
    if let Some(commodity) = &filter.commodity {
        let graph = &vocabulary::shipped()?.commodities;
        let within = graph
            .entries()
            .iter()
            .map(|entry| entry.id.as_str())
            .filter(move |id| graph.is_within(id, commodity));
        query = query.filter(dsl::commodity.eq_any(within.collect::<Vec<_>>()));
    }
    if let Some(from) = filter.arrived_from {
        query = query.filter(dsl::arrived_on.ge(from));
    }
    if let Some(to) = filter.arrived_to {
        query = query.filter(dsl::arrived_on.le(to));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
