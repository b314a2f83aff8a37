//! What many samples share, as one snapshot: procedures, kit lots, readers, equipment with its
//! checks, control materials, series, adopted limits, sites, and who is authorised for what.
//!
//! Promises the state that is current: a snapshot is kept in memory only while the laboratory's
//! counter of changes stands, and the transaction holds changes back until it ends.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ledger,
};
use diesel::{
    QueryableByName,
    sql_types::{Integer, Jsonb, Text, Uuid as SqlUuid},
};
use diesel_async::RunQueryDsl as _;
use domain::{
    accounts::Account,
    assessment::SharedFacts,
    commodities::Vocabulary,
    control_materials::ControlMaterial,
    equipment::{Checked, Doubts, Equipment, EquipmentCheck},
    id::{AccountId, ControlMaterialId, EquipmentId, KitLotId, ProcedureId, ReaderId, SiteId},
    kit_lots::KitLot,
    limits::Limit,
    procedures::{Procedure, ProcedureState},
    readers::Reader,
    results::Facts,
    series::Series,
    sites::Site,
    versions::SubjectVersion,
};
use serde::de::DeserializeOwned;
use std::{
    collections::HashMap,
    sync::{Arc, Mutex, PoisonError},
};
use uuid::Uuid;

/// A shared thing and its version.
#[derive(Debug, Clone)]
pub(crate) struct Shared<T> {
    /// Its version.
    pub(crate) version: i32,
    /// What it says.
    pub(crate) content: T,
}

impl<T> Shared<T> {
    /// The version as records name it.
    pub(crate) fn source(&self, id: Uuid) -> SubjectVersion {
        SubjectVersion {
            subject: id,
            version: u32::try_from(self.version).unwrap_or(1),
        }
    }

    /// As the domain's rules take it.
    pub(crate) fn facts(&self, id: Uuid) -> Facts<'_, T> {
        Facts {
            source: self.source(id),
            content: &self.content,
        }
    }
}

type Things<T> = HashMap<Uuid, Shared<T>>;
type Checks = HashMap<Uuid, Vec<(SubjectVersion, EquipmentCheck)>>;

/// The snapshot.
pub(crate) struct Reference {
    pub(crate) procedures: Things<Procedure>,
    pub(crate) kit_lots: Things<KitLot>,
    pub(crate) readers: Things<Reader>,
    pub(crate) equipment: Things<Equipment>,
    pub(crate) control_materials: Things<ControlMaterial>,
    pub(crate) series: Things<Series>,
    pub(crate) sites: Things<Site>,
    pub(crate) accounts: Things<Account>,
    /// Adopted limits, in the order of `limit_sources`.
    pub(crate) limits: Vec<Limit>,
    pub(crate) limit_sources: Vec<SubjectVersion>,
    /// Times in doubt, by the equipment or reader.
    doubts: HashMap<Uuid, Doubts>,
    /// Commodities and uses.
    pub(crate) vocabulary: Vocabulary,
    /// Kit lots by the number on the box.
    pub(crate) kit_lot_codes: HashMap<String, Uuid>,
    /// Readers by serial number.
    pub(crate) reader_serials: HashMap<String, Uuid>,
    commodity_lines: HashMap<String, Vec<String>>,
}

fn of<T>(things: &Things<T>, id: Uuid) -> Option<Facts<'_, T>> {
    things.get(&id).map(|shared| shared.facts(id))
}

impl SharedFacts for Reference {
    fn procedure(&self, id: ProcedureId) -> Option<Facts<'_, Procedure>> {
        of(&self.procedures, id.0)
    }

    fn kit_lot(&self, id: KitLotId) -> Option<Facts<'_, KitLot>> {
        of(&self.kit_lots, id.0)
    }

    fn control_material(&self, id: ControlMaterialId) -> Option<Facts<'_, ControlMaterial>> {
        of(&self.control_materials, id.0)
    }

    fn reader(&self, id: ReaderId) -> Option<Facts<'_, Reader>> {
        of(&self.readers, id.0)
    }

    fn equipment(&self, id: EquipmentId) -> Option<Facts<'_, Equipment>> {
        of(&self.equipment, id.0)
    }

    fn all_equipment(&self) -> Vec<Facts<'_, Equipment>> {
        let things = self.equipment.iter();
        things.map(|(id, shared)| shared.facts(*id)).collect()
    }

    fn doubts(&self, of: Uuid) -> Option<&Doubts> {
        self.doubts.get(&of)
    }

    fn site(&self, id: SiteId) -> Option<Facts<'_, Site>> {
        of(&self.sites, id.0)
    }

    fn account(&self, id: AccountId) -> Option<Facts<'_, Account>> {
        of(&self.accounts, id.0)
    }

    fn limits(&self) -> &[Limit] {
        &self.limits
    }

    fn limit_sources(&self) -> &[SubjectVersion] {
        &self.limit_sources
    }

    fn vocabulary(&self) -> &Vocabulary {
        &self.vocabulary
    }

    fn commodity_line(&self, commodity: &str) -> &[String] {
        self.commodity_lines
            .get(commodity)
            .map(Vec::as_slice)
            .unwrap_or_default()
    }
}

/// Snapshots by laboratory, with the count of changes at which they were taken.
#[derive(Default)]
pub struct References(Mutex<HashMap<i32, (i64, Arc<Reference>)>>);

impl References {
    /// The snapshot at this count of changes, which the transaction holds back from changing.
    pub(crate) async fn at(&self, tx: &mut Tx, stamp: i64) -> Answer<Arc<Reference>> {
        let laboratory = tx.laboratory_id();
        let kept = self
            .0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&laboratory)
            .filter(|(at, _)| *at == stamp)
            .map(|(_, kept)| Arc::clone(kept));
        if let Some(reference) = kept {
            return Ok(reference);
        }
        let reference = Arc::new(load(tx).await?);
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .insert(laboratory, (stamp, Arc::clone(&reference)));
        Ok(reference)
    }
}

#[derive(QueryableByName)]
struct SharedRow {
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Integer)]
    version: i32,
    #[diesel(sql_type = Jsonb)]
    content: serde_json::Value,
}

const LOAD: &str = "\
    SELECT 'procedure' AS kind, procedure_id AS id, version, content \
      FROM procedures_procedure WHERE laboratory_id = $1 UNION ALL \
    SELECT 'kit-lot', kit_lot_id, version, content \
      FROM kit_lots_kit_lot WHERE laboratory_id = $1 UNION ALL \
    SELECT 'reader', reader_id, version, content \
      FROM readers_reader WHERE laboratory_id = $1 UNION ALL \
    SELECT 'equipment', equipment_id, version, content \
      FROM equipment_item WHERE laboratory_id = $1 UNION ALL \
    SELECT 'check', check_id, version, content \
      FROM equipment_check WHERE laboratory_id = $1 UNION ALL \
    SELECT 'control-material', control_material_id, version, content \
      FROM control_materials_control_material WHERE laboratory_id = $1 UNION ALL \
    SELECT 'series', series_id, version, content \
      FROM series_series WHERE laboratory_id = $1 UNION ALL \
    SELECT 'site', site_id, version, content \
      FROM sites_site WHERE laboratory_id = $1 UNION ALL \
    SELECT 'account', account_id, version, content \
      FROM identity_account WHERE laboratory_id = $1 UNION ALL \
    SELECT 'limit', limit_id, version, content \
      FROM limits_limit WHERE laboratory_id = $1 AND state = 'adopted'";

async fn load(tx: &mut Tx) -> Answer<Reference> {
    let laboratory = tx.laboratory_id();
    let rows: Vec<SharedRow> = crate::statement::statement(LOAD)
        .bind::<Integer, _>(laboratory)
        .load(tx.connection())
        .await?;
    let mut reference = Reference {
        procedures: HashMap::new(),
        kit_lots: HashMap::new(),
        readers: HashMap::new(),
        equipment: HashMap::new(),
        control_materials: HashMap::new(),
        series: HashMap::new(),
        sites: HashMap::new(),
        accounts: HashMap::new(),
        limits: Vec::new(),
        limit_sources: Vec::new(),
        doubts: HashMap::new(),
        vocabulary: Vocabulary::shipped().map_err(ApiError::internal)?,
        kit_lot_codes: HashMap::new(),
        reader_serials: HashMap::new(),
        commodity_lines: HashMap::new(),
    };
    let mut checks: Checks = HashMap::new();
    for row in rows {
        take(&mut reference, &mut checks, row)?;
    }
    for (id, of_one) in checks {
        let named = of_one.iter().map(|(source, check)| (*source, check));
        reference.doubts.insert(id, Doubts::of(named));
    }
    in_force(tx, &mut reference).await?;
    index(&mut reference);
    Ok(reference)
}

fn take(reference: &mut Reference, checks: &mut Checks, row: SharedRow) -> Answer<()> {
    match row.kind.as_str() {
        "procedure" => put(&mut reference.procedures, row),
        "kit-lot" => put(&mut reference.kit_lots, row),
        "reader" => put(&mut reference.readers, row),
        "equipment" => put(&mut reference.equipment, row),
        "control-material" => put(&mut reference.control_materials, row),
        "series" => put(&mut reference.series, row),
        "site" => put(&mut reference.sites, row),
        "account" => put(&mut reference.accounts, row),
        "check" => {
            let source = source(&row)?;
            let check: EquipmentCheck = read(row.content)?;
            let of = match check.of {
                Checked::Equipment(id) => id.0,
                Checked::Reader(id) => id.0,
            };
            checks.entry(of).or_default().push((source, check));
            Ok(())
        }
        _ => {
            let source = source(&row)?;
            reference.limits.push(read(row.content)?);
            reference.limit_sources.push(source);
            Ok(())
        }
    }
}

fn source(row: &SharedRow) -> Answer<SubjectVersion> {
    Ok(SubjectVersion {
        subject: row.id,
        version: u32::try_from(row.version).map_err(ApiError::internal)?,
    })
}

fn put<T: DeserializeOwned>(things: &mut Things<T>, row: SharedRow) -> Answer<()> {
    let shared = Shared {
        version: row.version,
        content: read(row.content)?,
    };
    things.insert(row.id, shared);
    Ok(())
}

fn read<T: DeserializeOwned>(content: serde_json::Value) -> Answer<T> {
    serde_json::from_value(content).map_err(ApiError::internal)
}

/// While a new version of a procedure is a draft, the version before is what people work by.
async fn in_force(tx: &mut Tx, reference: &mut Reference) -> Answer<()> {
    let drafts: Vec<(Uuid, i32)> = reference
        .procedures
        .iter()
        .filter(|(_, shared)| shared.content.state == ProcedureState::Draft && shared.version > 1)
        .map(|(id, shared)| (*id, shared.version))
        .collect();
    for (id, version) in drafts {
        for (earlier, content) in ledger::contents_before(tx, id, version).await? {
            let procedure: Procedure = read(content)?;
            if procedure.state == ProcedureState::Adopted {
                let shared = Shared {
                    version: earlier,
                    content: procedure,
                };
                reference.procedures.insert(id, shared);
                break;
            }
        }
    }
    Ok(())
}

fn index(reference: &mut Reference) {
    for (id, shared) in &reference.kit_lots {
        let code = shared.content.entry.code.clone();
        reference.kit_lot_codes.insert(code, *id);
    }
    for (id, shared) in &reference.readers {
        let serial = shared.content.serial.clone();
        reference.reader_serials.insert(serial, *id);
    }
    let goods = &reference.vocabulary.commodities;
    reference.commodity_lines = goods
        .entries()
        .iter()
        .map(|entry| {
            let line = goods
                .entries()
                .iter()
                .filter(|other| goods.is_within(&entry.id, &other.id))
                .map(|other| other.id.clone())
                .collect();
            (entry.id.clone(), line)
        })
        .collect();
}
