//! What a certificate is written from: everything recorded of a lot, its samples and their results.
//!
//! Promises one consistent reading inside the transaction that issues. Refuses results of another
//! lot, and a lot without the order or customer that a certificate names.

mod read;
mod rows;

pub(super) use read::read;

use domain::{
    control_materials::ControlMaterial, customers::Customer, equipment::Equipment, holds::Hold,
    id::AccountId, kit_lots::KitLot, laboratories::Laboratory, limits::Limit, lots::Lot,
    orders::Order, preparations::Preparation, procedures::ProcedureEntry, readers::Reader,
    reviews::Review, runs::Run, samples::Sample, samplings::Sampling, sites::Site, time::Moment,
};
use std::collections::{BTreeMap, HashMap};
use uuid::Uuid;

/// Something in the version that is the newest, or the one that was used.
pub(super) struct Found<T> {
    pub(super) version: i32,
    pub(super) content: T,
    pub(super) created_at: Moment,
}

/// Things by their ids, in the order in which they were made.
pub(super) type Things<T> = BTreeMap<Uuid, Found<T>>;

/// A control run and what it was taken from.
pub(super) struct ControlRun {
    pub(super) run: Uuid,
    pub(super) material: Uuid,
    pub(super) content: Found<Run>,
}

/// Everything that a certificate is written from.
pub(super) struct Evidence {
    pub(super) laboratory: Laboratory,
    pub(super) lot: (Uuid, Lot),
    /// The lot that `lot` is a sublot of.
    pub(super) parent: Option<Lot>,
    pub(super) order: (Uuid, Order),
    pub(super) customer: (Uuid, Customer),
    pub(super) site: (Uuid, Site),
    pub(super) sampling: Option<Sampling>,
    pub(super) samples: Things<Sample>,
    pub(super) preparations: Things<Preparation>,
    pub(super) equipment: Things<Equipment>,
    pub(super) runs: Things<Run>,
    pub(super) controls: Vec<ControlRun>,
    pub(super) materials: Things<ControlMaterial>,
    pub(super) kit_lots: Things<KitLot>,
    pub(super) readers: Things<Reader>,
    /// Procedures by id and version: the one that a result was computed by.
    pub(super) procedures: BTreeMap<(Uuid, u32), ProcedureEntry>,
    pub(super) holds: Things<Hold>,
    /// The release of each result.
    pub(super) releases: HashMap<Uuid, Review>,
    /// Limits by the id that decisions name.
    pub(super) limits: HashMap<String, (Uuid, Limit)>,
    /// Printed names.
    pub(super) names: HashMap<Uuid, String>,
}

impl Evidence {
    /// The printed name of an account.
    pub(super) fn name(&self, account: AccountId) -> Option<String> {
        self.names.get(&account.0).cloned()
    }
}
