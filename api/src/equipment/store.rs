//! All SQL of equipment; that of its checks is in `checks`.

pub(crate) mod checks;

use crate::{kept::Subject, request::Page};
use chrono::NaiveDate;
use domain::equipment::{Equipment, EquipmentKind};
use uuid::Uuid;

impl Subject for Equipment {
    const KIND: &'static str = "equipment";
    const DISCLOSED: &'static [&'static str] = &[];
}

/// The word of a kind in rows, as it is on the wire.
const fn kind_word(kind: EquipmentKind) -> &'static str {
    match kind {
        EquipmentKind::Balance => "balance",
        EquipmentKind::Pipette => "pipette",
        EquipmentKind::Cylinder => "cylinder",
        EquipmentKind::Grinder => "grinder",
        EquipmentKind::Timer => "timer",
        EquipmentKind::Shaker => "shaker",
        EquipmentKind::Centrifuge => "centrifuge",
        EquipmentKind::Thermometer => "thermometer",
        EquipmentKind::MoistureMeter => "moisture-meter",
        EquipmentKind::Other => "other",
    }
}

crate::keep_rows! {
    table: equipment_item,
    key: equipment_id,
    content: Equipment,
    called: "piece of equipment",
    columns: {
        code: String = |piece| piece.code.clone(),
        kind: String = |piece| kind_word(piece.kind).to_owned(),
        site_id: Option<Uuid> = |piece| piece.site.map(Uuid::from),
        due_on: Option<NaiveDate> = Equipment::due_on,
    }
}

/// A page of equipment, newest first; only what the filter asks for.
pub(super) async fn list(
    tx: &mut Tx,
    page: &Page,
    filter: &super::list_equipment::EquipmentFilter,
) -> Answer<Vec<Kept<Equipment>>> {
    let mut query = dsl::equipment_item
        .filter(dsl::laboratory_id.eq(tx.laboratory_id()))
        .filter(dsl::equipment_id.lt(page.after.unwrap_or(Uuid::max())))
        .order(dsl::equipment_id.desc())
        .limit(page.rows())
        .select(Row::as_select())
        .into_boxed();
    if let Some(kind) = filter.kind {
        query = query.filter(dsl::kind.eq(kind_word(kind)));
    }
    if let Some(site) = filter.site {
        query = query.filter(dsl::site_id.eq(site.0));
    }
    if let Some(code) = &filter.code {
        query = query.filter(dsl::code.eq(code.clone()));
    }
    if let Some(day) = filter.due_before {
        query = query.filter(dsl::due_on.lt(day));
    }
    let rows: Vec<Row> = query.load(tx.connection()).await?;
    rows.into_iter().map(Row::kept).collect()
}
