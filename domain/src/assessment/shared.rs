//! What many samples share, as whoever computes knows it.

use uuid::Uuid;

use crate::accounts::Account;
use crate::commodities::Vocabulary;
use crate::control_materials::ControlMaterial;
use crate::equipment::{Doubts, Equipment};
use crate::id::{
    AccountId, ControlMaterialId, EquipmentId, KitLotId, ProcedureId, ReaderId, SiteId,
};
use crate::kit_lots::KitLot;
use crate::limits::Limit;
use crate::procedures::Procedure;
use crate::readers::Reader;
use crate::results::Facts;
use crate::sites::Site;
use crate::versions::SubjectVersion;

/// Procedures, kit lots, readers, equipment, sites, accounts and limits: each in the one version
/// that counts for the computation.
pub trait SharedFacts {
    /// The version of a procedure that is worked by.
    fn procedure(&self, id: ProcedureId) -> Option<Facts<'_, Procedure>>;
    /// A kit lot.
    fn kit_lot(&self, id: KitLotId) -> Option<Facts<'_, KitLot>>;
    /// A control material.
    fn control_material(&self, id: ControlMaterialId) -> Option<Facts<'_, ControlMaterial>>;
    /// A reader.
    fn reader(&self, id: ReaderId) -> Option<Facts<'_, Reader>>;
    /// A piece of equipment.
    fn equipment(&self, id: EquipmentId) -> Option<Facts<'_, Equipment>>;
    /// All equipment, in any order.
    fn all_equipment(&self) -> Vec<Facts<'_, Equipment>>;
    /// The times in doubt of a piece of equipment or a reader; none where it has no checks.
    fn doubts(&self, of: Uuid) -> Option<&Doubts>;
    /// A site.
    fn site(&self, id: SiteId) -> Option<Facts<'_, Site>>;
    /// An account.
    fn account(&self, id: AccountId) -> Option<Facts<'_, Account>>;
    /// The adopted limits.
    fn limits(&self) -> &[Limit];
    /// Their versions, in the same order.
    fn limit_sources(&self) -> &[SubjectVersion];
    /// Commodities and uses.
    fn vocabulary(&self) -> &Vocabulary;
    /// A commodity and everything that it is a kind of.
    fn commodity_line(&self, commodity: &str) -> &[String];
}
