<<<<<<< HEAD
//! Ids that a content names: each must be of a thing in the same laboratory.
//!
//! Promises one question a kind of thing, however many ids are named; refuses a content that names
//! what is not there, with the pointer of every such member.
=======
//! What a body names by its id must be there.
//!
//! Promises one fault for every id that names nothing in this laboratory, at the member that
//! named it. Refuses a customer that was set inactive, where it is named anew.
>>>>>>> c67f642 (Serve orders, lots, samplings, samples and preparations)

use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use diesel::{
    QueryableByName,
<<<<<<< HEAD
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
    /// Equipment that is no reader.
    Equipment,
    /// A procedure.
    Procedure,
    /// A reader.
    Reader,
    /// A run.
    Run,
    /// A site.
    Site,
}

impl Thing {
    /// Its table, the key of it, and the word for people.
    const fn place(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Account => ("identity_account", "account_id", "account"),
            Self::Equipment => ("equipment_item", "equipment_id", "piece of equipment"),
            Self::Procedure => ("procedures_procedure", "procedure_id", "procedure"),
            Self::Reader => ("readers_reader", "reader_id", "reader"),
            Self::Run => ("runs_run", "run_id", "run"),
            Self::Site => ("sites_site", "site_id", "site"),
=======
    sql_types::{Array, Integer, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::faults::Faults;
use std::collections::HashMap;
use uuid::Uuid;

/// Of which kind a named thing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Thing {
    Account,
    ControlMaterial,
    Customer,
    Equipment,
    Limit,
    Lot,
    Order,
    Procedure,
    Sampling,
    Site,
}

/// All kinds, in the order in which they are looked up.
const THINGS: [Thing; 10] = [
    Thing::Account,
    Thing::ControlMaterial,
    Thing::Customer,
    Thing::Equipment,
    Thing::Limit,
    Thing::Lot,
    Thing::Order,
    Thing::Procedure,
    Thing::Sampling,
    Thing::Site,
];

impl Thing {
    const fn called(self) -> &'static str {
        match self {
            Self::Account => "account",
            Self::ControlMaterial => "control material",
            Self::Customer => "customer",
            Self::Equipment => "equipment",
            Self::Limit => "limit",
            Self::Lot => "lot",
            Self::Order => "order",
            Self::Procedure => "procedure",
            Self::Sampling => "sampling",
            Self::Site => "site",
        }
    }

    const fn table_and_key(self) -> (&'static str, &'static str) {
        match self {
            Self::Account => ("identity_account", "account_id"),
            Self::ControlMaterial => ("control_materials_control_material", "control_material_id"),
            Self::Customer => ("customers_customer", "customer_id"),
            Self::Equipment => ("equipment_item", "equipment_id"),
            Self::Limit => ("limits_limit", "limit_id"),
            Self::Lot => ("lots_lot", "lot_id"),
            Self::Order => ("orders_order", "order_id"),
            Self::Procedure => ("procedures_procedure", "procedure_id"),
            Self::Sampling => ("samplings_sampling", "sampling_id"),
            Self::Site => ("sites_site", "site_id"),
>>>>>>> c67f642 (Serve orders, lots, samplings, samples and preparations)
        }
    }
}

<<<<<<< HEAD
/// The ids that a content names, each with the pointer of the member that names it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Named(BTreeMap<Thing, Vec<(String, Uuid)>>);
=======
struct Name {
    thing: Thing,
    id: Uuid,
    pointer: String,
    /// Named for the first time by this body, not by a version before it.
    anew: bool,
}

/// The ids that a body names.
#[derive(Default)]
pub(crate) struct Names(Vec<Name>);
>>>>>>> c67f642 (Serve orders, lots, samplings, samples and preparations)

#[derive(QueryableByName)]
struct Found {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
<<<<<<< HEAD
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
=======
    #[diesel(sql_type = Text)]
    state: String,
}

impl Names {
    /// Adds an id where there is one.
    pub(crate) fn add(
        &mut self,
        thing: Thing,
        id: Option<impl Into<Uuid>>,
        pointer: impl Into<String>,
    ) {
        self.0.extend(id.map(|id| Name {
            thing,
            id: id.into(),
            pointer: pointer.into(),
            anew: true,
        }));
    }

    /// Says which ids the version before named already: they stay, whatever became of them.
    pub(crate) fn known_before(&mut self, before: &[Uuid]) {
        for name in &mut self.0 {
            name.anew = name.anew && !before.contains(&name.id);
        }
    }

    /// Looks all of them up.
    ///
    /// # Errors
    /// [`ApiError::Invalid`], with the pointer of each id that names nothing here.
    pub(crate) async fn check(self, tx: &mut Tx) -> Answer<()> {
        let mut faults = Faults::default();
        for thing in THINGS {
            let wanted: Vec<&Name> = self.0.iter().filter(|name| name.thing == thing).collect();
            if wanted.is_empty() {
                continue;
            }
            let found = look_up(tx, thing, wanted.iter().map(|name| name.id).collect()).await?;
            for name in wanted {
                let (called, id) = (thing.called(), name.id);
                let state = found.get(&id).map(String::as_str);
                faults.require(state.is_some(), &name.pointer, || {
                    format!("There is no {called} {id} in this laboratory. Look it up in the list.")
                });
                let closed = thing == Thing::Customer && name.anew && state == Some("inactive");
                faults.require(!closed, &name.pointer, || {
                    format!(
                        "Customer {id} is inactive and takes no new orders or lots. Set it active \
                         first, or name another."
                    )
>>>>>>> c67f642 (Serve orders, lots, samplings, samples and preparations)
                });
            }
        }
        faults.into_result().map_err(ApiError::from)
    }
}
<<<<<<< HEAD
=======

async fn look_up(tx: &mut Tx, thing: Thing, ids: Vec<Uuid>) -> Answer<HashMap<Uuid, String>> {
    let (table, key) = thing.table_and_key();
    let laboratory = tx.laboratory_id();
    let found: Vec<Found> = diesel::sql_query(format!(
        "SELECT {key} AS id, state FROM {table} WHERE laboratory_id = $1 AND {key} = ANY($2)"
    ))
    .bind::<Integer, _>(laboratory)
    .bind::<Array<SqlUuid>, _>(ids)
    .load(tx.connection())
    .await?;
    Ok(found.into_iter().map(|row| (row.id, row.state)).collect())
}
>>>>>>> c67f642 (Serve orders, lots, samplings, samples and preparations)
