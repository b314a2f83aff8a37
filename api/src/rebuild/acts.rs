//! From acts to the versions that they tell, kind by kind.
//!
//! Promises that what is told comes from the signed entries and the records' exact bytes; the
//! columns beside them are only compared. Refuses a record that cannot be read.

use super::{erased::Erased, report::Drift, store::ActRow};
use crate::{
    error::{Answer, ApiError},
    kept::Kept,
    ledger::{self, PlacedVersion},
};
use domain::{
    ledger::{Disclosure, Hash, act::ReadAct},
    time::Moment,
};
use serde::Deserialize;
use serde_json::Value;
use std::collections::{BTreeMap, HashMap};
use uuid::Uuid;

/// What some acts tell.
#[derive(Default)]
pub(super) struct Page {
    /// Versions of each kind, in order.
    pub(super) versions: BTreeMap<String, Vec<Kept<Value>>>,
    /// Where each stands.
    pub(super) places: Vec<PlacedVersion>,
    /// What the columns of the acts say otherwise than their entries.
    pub(super) drifts: Vec<Drift>,
}

#[derive(Deserialize)]
struct Record {
    kind: String,
    subject: Uuid,
    version: i32,
    content: Value,
}

impl Page {
    /// Adds an act, with the disclosures that are left of it, and what stands in for the others.
    pub(super) fn add(&mut self, row: &ActRow, left: &[Disclosure], erased: &Erased) -> Answer<()> {
        let unreadable = |fault: &dyn std::fmt::Display| {
            ApiError::internal(format!("act {} cannot be read: {fault}", row.act_id))
        };
        let read = ReadAct::parse(&row.entry).map_err(|fault| unreadable(&fault))?;
        let at = read.act.time;
        let records = std::str::from_utf8(&row.records).map_err(|fault| unreadable(&fault))?;
        let by_digest: HashMap<&str, &Disclosure> =
            left.iter().map(|one| (one.digest(), one)).collect();
        let mut position = 0_i16;
        for line in records.lines() {
            let record: Record = serde_json::from_str(line).map_err(|fault| unreadable(&fault))?;
            self.places.push(PlacedVersion {
                subject: record.subject,
                version: record.version,
                act: row.act_id,
                position,
                hash: Hash::of_leaf(line.as_bytes()),
            });
            self.tell(record, at, &by_digest, erased)?;
            position = position.saturating_add(1);
        }
        let differing = differing(row, &read, position);
        if !differing.is_empty() {
            let subject = row.act_id.to_string();
            self.drifts
                .push(Drift::differs("ledger_act", subject, differing));
        }
        Ok(())
    }

    fn tell(
        &mut self,
        mut record: Record,
        at: Moment,
        left: &HashMap<&str, &Disclosure>,
        erased: &Erased,
    ) -> Answer<()> {
        ledger::reveal_by_digest(&mut record.content, left)?;
        erased.put_in(record.subject, record.version, &mut record.content);
        self.versions.entry(record.kind).or_default().push(Kept {
            id: record.subject,
            version: record.version,
            content: record.content,
            created_at: at,
            changed_at: at,
        });
        Ok(())
    }
}

/// Columns of an act that do not say what its entry says.
fn differing(row: &ActRow, read: &ReadAct<'_>, records: i16) -> Vec<String> {
    let act = &read.act;
    let columns = [
        ("act_id", row.act_id == act.id.0),
        ("action", row.action == act.action),
        ("actor", row.actor == ledger::actor_value(&act.actor)),
        ("recorded_at", row.recorded_at == act.time.utc()),
        (
            "record_count",
            u64::try_from(row.record_count) == Ok(act.records),
        ),
        ("records", u64::try_from(records) == Ok(act.records)),
    ];
    columns
        .into_iter()
        .filter(|(_, same)| !same)
        .map(|(column, _)| column.to_owned())
        .collect()
}

/// The newest version of each subject, made when the first of them was.
pub(super) fn newest(versions: Vec<Kept<Value>>) -> Vec<Kept<Value>> {
    let mut newest: BTreeMap<Uuid, Kept<Value>> = BTreeMap::new();
    for mut kept in versions {
        if let Some(before) = newest.get(&kept.id) {
            kept.created_at = before.created_at;
        }
        newest.insert(kept.id, kept);
    }
    newest.into_values().collect()
}
