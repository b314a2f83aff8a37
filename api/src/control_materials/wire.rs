//! How a control material is shown.

use crate::kept::Kept;
use domain::{control_materials::ControlMaterial, time::Moment};
use serde::Serialize;
use uuid::Uuid;

/// A control material, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ControlMaterialView {
    /// Its id.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What it says.
    #[serde(flatten)]
    pub control_material: ControlMaterial,
    /// When version 1 was recorded.
    pub created_at: Moment,
    /// When this version was recorded.
    pub changed_at: Moment,
}

impl From<Kept<ControlMaterial>> for ControlMaterialView {
    fn from(kept: Kept<ControlMaterial>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            control_material: kept.content,
            created_at: kept.created_at,
            changed_at: kept.changed_at,
        }
    }
}
