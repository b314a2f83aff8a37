//! Ids that a content names: each must be of a thing in the same laboratory.
//!
//! Promises one question a kind of thing, however many ids are named; refuses a content that names
//! what is not there, with the pointer of every such member.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use diesel::{
    QueryableByName,
    sql_types::{Array, Integer, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::faults::Faults;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// What an id is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Thing {
    /// A person's account.
    Account,
    /// A customer that takes new orders and lots.
    ActiveCustomer,
    /// A control material.
    ControlMaterial,
    /// A customer, active or not.
    Customer,
    /// Equipment that is no reader.
    Equipment,
    /// A kit lot.
    KitLot,
    /// A limit.
    Limit,
    /// A lot.
    Lot,
    /// An order.
    Order,
    /// A procedure.
    Procedure,
    /// A reader.
    Reader,
    /// A run.
    Run,
    /// A sampling.
    Sampling,
    /// A site.
    Site,
}

impl Thing {
    /// Its table, the key of it, and the word for people.
    const fn place(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Account => ("identity_account", "account_id", "account"),
            Self::ActiveCustomer => (
                "(SELECT * FROM customers_customer WHERE state = 'active') AS active",
                "customer_id",
                "active customer",
            ),
            Self::ControlMaterial => (
                "control_materials_control_material",
                "control_material_id",
                "control material",
            ),
            Self::Customer => ("customers_customer", "customer_id", "customer"),
            Self::Equipment => ("equipment_item", "equipment_id", "piece of equipment"),
            Self::KitLot => ("kit_lots_kit_lot", "kit_lot_id", "kit lot"),
            Self::Limit => ("limits_limit", "limit_id", "limit"),
            Self::Lot => ("lots_lot", "lot_id", "lot"),
            Self::Order => ("orders_order", "order_id", "order"),
            Self::Procedure => ("procedures_procedure", "procedure_id", "procedure"),
            Self::Reader => ("readers_reader", "reader_id", "reader"),
            Self::Run => ("runs_run", "run_id", "run"),
            Self::Sampling => ("samplings_sampling", "sampling_id", "sampling"),
            Self::Site => ("sites_site", "site_id", "site"),
        }
    }
}

/// The ids that a content names, each with the pointer of the member that names it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Named(BTreeMap<Thing, Vec<(String, Uuid)>>);

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

impl Named {
    /// Notes an id, where the member is there at all.
    pub(crate) fn add(
        &mut self,
        thing: Thing,
        pointer: impl Into<String>,
        id: Option<impl Into<Uuid>>,
    ) {
        if let Some(id) = id {
            let named = self.0.entry(thing).or_default();
            named.push((pointer.into(), id.into()));
        }
    }

    /// Refuses unless each is there.
    ///
    /// # Errors
    /// [`ApiError::Invalid`] with every member that names nothing.
    pub(crate) async fn must_be_there(self, tx: &mut Tx) -> Answer<()> {
        let mut faults = Faults::default();
        let laboratory = tx.laboratory_id();
        for (thing, named) in self.0 {
            let (table, key, word) = thing.place();
            let ids: Vec<Uuid> = named.iter().map(|(_, id)| *id).collect();
            let found: Vec<Found> = diesel::sql_query(format!(
                "SELECT {key} AS id FROM {table} WHERE laboratory_id = $1 AND {key} = ANY($2)"
            ))
            .bind::<Integer, _>(laboratory)
            .bind::<Array<SqlUuid>, _>(ids)
            .load(tx.connection())
            .await?;
            let known: BTreeSet<Uuid> = found.into_iter().map(|row| row.id).collect();
            for (pointer, id) in named {
                faults.require(known.contains(&id), pointer, || {
                    format!("There is no {word} {id} in this laboratory. Look it up in the list.")
                });
            }
        }
        faults.into_result().map_err(ApiError::from)
    }
}
