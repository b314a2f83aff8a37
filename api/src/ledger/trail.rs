//! The acts that concern some subjects, newest first: who did what, when, why, and which versions
//! of the subjects each recorded.

use super::{act_records, store};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use domain::time::Moment;
use serde_json::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

/// An act, with what of it concerns the subjects.
pub(crate) struct TrailAct {
    /// What was done.
    pub(crate) action: String,
    /// Who did it.
    pub(crate) actor: Value,
    /// When.
    pub(crate) at: Moment,
    /// Why, where a reason was due: `{"code":…,"text":…}`, the text null where it was erased.
    pub(crate) reason: Option<Value>,
    /// Which versions it recorded, in the order of its records.
    pub(crate) versions: Vec<TrailVersion>,
}

/// A version that an act recorded.
pub(crate) struct TrailVersion {
    /// What kind of thing the subject is.
    pub(crate) kind: String,
    /// The subject.
    pub(crate) subject: Uuid,
    /// Its version.
    pub(crate) version: u64,
    /// What it says, its disclosures in clear where they are left.
    pub(crate) content: Value,
}

/// The newest acts that recorded a version of one of the subjects, at most `most` of them. Of
/// kinds named in `also`, every record of such an act is given: a signature stands beside what it
/// signs.
///
/// # Errors
/// [`ApiError::Internal`] where what is stored cannot be read.
pub(crate) async fn trail(
    tx: &mut Tx,
    subjects: &BTreeSet<Uuid>,
    also: &[&str],
    most: i64,
) -> Answer<Vec<TrailAct>> {
    let rows = store::acts_about(tx, subjects.iter().copied().collect(), most).await?;
    let mut acts = Vec::with_capacity(rows.len());
    for row in rows {
        let left = act_records::disclosures_of(tx, row.act_id).await?;
        let text = String::from_utf8(row.records).map_err(ApiError::internal)?;
        let mut versions = Vec::new();
        for line in text.lines() {
            let mut record: Value = serde_json::from_str(line).map_err(ApiError::internal)?;
            let kind = text_of(&record, "kind").to_owned();
            let subject: Uuid = text_of(&record, "subject")
                .parse()
                .map_err(ApiError::internal)?;
            if !subjects.contains(&subject) && !also.contains(&kind.as_str()) {
                continue;
            }
            let mut content = record
                .get_mut("content")
                .map(Value::take)
                .unwrap_or_default();
            act_records::reveal_what_is_left(&mut content, &left)?;
            versions.push(TrailVersion {
                kind,
                subject,
                version: record.get("version").and_then(Value::as_u64).unwrap_or(1),
                content,
            });
        }
        acts.push(TrailAct {
            action: row.action,
            actor: row.actor,
            at: row.recorded_at.into(),
            reason: act_records::reason(&row.entry, &left)?,
            versions,
        });
    }
    Ok(acts)
}

fn text_of<'a>(record: &'a Value, name: &str) -> &'a str {
    record.get(name).and_then(Value::as_str).unwrap_or_default()
}
