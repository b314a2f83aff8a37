//! All SQL of control materials.

use crate::{kept::Subject, request::Page};
use chrono::NaiveDate;
use domain::control_materials::{ControlMaterial, DISCLOSED};

impl Subject for ControlMaterial {
    const KIND: &'static str = "control-material";
    const DISCLOSED: &'static [&'static str] = DISCLOSED;
}

crate::keep_rows! {
    table: control_materials_control_material,
    key: control_material_id,
    content: ControlMaterial,
    called: "control material",
    columns: {
        code: String = |material| material.code.clone(),
        expires_on: NaiveDate = |material| material.expires_on,
    }
}

/// A page of control materials, newest first; only those that the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_control_materials::ControlMaterialFilter,
) -> Answer<Vec<Kept<ControlMaterial>>> {
    let mut query = dsl::control_materials_control_material
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::control_material_id.lt(page.after.unwrap_or(uuid::Uuid::max())))
        .order(dsl::control_material_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code.clone()));
    }
    if let Some(day) = filter.expires_before {
        query = query.filter(dsl::expires_on.lt(day));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
