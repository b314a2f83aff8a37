//! What stands in for erased members: an erasure is recorded later than what it erases, and the row
//! that shows it was changed without a new version of it.

use super::store::ActRow;
use crate::error::{Answer, ApiError};
use domain::erasures::{ErasedMember, Erasure, HeldIn, put_in_place};
use serde::Deserialize;
use serde_json::Value;
use std::collections::HashMap;
use uuid::Uuid;

/// The erased members of each version.
#[derive(Default)]
pub(super) struct Erased(HashMap<(Uuid, u32), Vec<ErasedMember>>);

#[derive(Deserialize)]
struct Record {
    kind: String,
    content: Value,
}

impl Erased {
    /// Adds what an act erased.
    pub(super) fn add(&mut self, act: &ActRow) -> Answer<()> {
        let unreadable = |fault: &dyn std::fmt::Display| {
            ApiError::internal(format!("act {} cannot be read: {fault}", act.act_id))
        };
        let records = std::str::from_utf8(&act.records).map_err(|fault| unreadable(&fault))?;
        for line in records.lines() {
            let record: Record = serde_json::from_str(line).map_err(|fault| unreadable(&fault))?;
            if record.kind != "erasure" {
                continue;
            }
            let erasure: Erasure =
                serde_json::from_value(record.content).map_err(|fault| unreadable(&fault))?;
            for one in erasure.erased {
                if let (HeldIn::Record, Some(subject), Some(version)) =
                    (one.held_in, one.subject, one.version)
                {
                    self.0.entry((subject, version)).or_default().push(one);
                }
            }
        }
        Ok(())
    }

    /// Puts what stands in for the erased members of a version in their place.
    pub(super) fn put_in(&self, subject: Uuid, version: i32, content: &mut Value) {
        let version = u32::try_from(version).unwrap_or_default();
        for one in self.0.get(&(subject, version)).into_iter().flatten() {
            put_in_place(content, &one.member, &one.stands_in);
        }
    }
}
