//! Reads records back out of their acts, with the disclosures that are left.

use super::store::{self, VersionRow};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use domain::ledger::{Disclosure, Hash, disclosure::reveal, tree};
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// One version of a subject, as the audit trail shows it.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct RecordView {
    /// The subject.
    pub subject: Uuid,
    /// Version of the subject, from 1.
    #[schema(minimum = 1)]
    pub version: i32,
    /// What kind of thing the subject is.
    #[schema(example = "run")]
    pub kind: String,
    /// SHA-256(0x00 || canonical bytes), 64 hex digits.
    pub hash: String,
    /// The act that recorded it.
    pub act: Uuid,
    /// Where in the act it stands, from 0.
    pub position: i16,
    /// What was done.
    #[schema(example = "record-run")]
    pub action: String,
    /// Who did it.
    #[schema(value_type = Object)]
    pub actor: Value,
    /// When (server clock, UTC).
    pub recorded_at: domain::time::Moment,
    /// Why, where a reason was due.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Object>)]
    pub reason: Option<Value>,
    /// What the record says, its disclosures in clear where they are left.
    #[schema(value_type = Object)]
    pub content: Value,
    /// Digests in the record whose disclosure was erased.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub erased: Vec<String>,
    /// The record's exact bytes.
    pub record: String,
    /// The signed act, as a compact JWS.
    pub entry: String,
}

/// Shows a stored version, its act opened.
///
/// # Errors
/// [`ApiError::Internal`] where what is stored cannot be read.
pub(super) async fn show(tx: &mut Tx, row: VersionRow) -> Answer<RecordView> {
    let position = usize::try_from(row.position).map_err(ApiError::internal)?;
    let text = String::from_utf8(row.records).map_err(ApiError::internal)?;
    let record = text
        .lines()
        .nth(position)
        .ok_or_else(|| ApiError::internal("an act lacks the record that stands in it"))?
        .to_owned();
    let mut parsed: Value = serde_json::from_str(&record).map_err(ApiError::internal)?;
    let left = disclosures_of(tx, row.act_id).await?;
    let mut content = parsed
        .get_mut("content")
        .map(Value::take)
        .unwrap_or_default();
    let erased = reveal_what_is_left(&mut content, &left)?;
    Ok(RecordView {
        subject: row.subject_id,
        version: row.version,
        kind: parsed
            .get("kind")
            .and_then(Value::as_str)
            .unwrap_or_default()
            .to_owned(),
        hash: domain::ledger::Hash::from_slice(&row.record_hash)
            .map_err(ApiError::internal)?
            .to_string(),
        act: row.act_id,
        position: row.position,
        action: row.action,
        actor: row.actor,
        recorded_at: row.recorded_at.into(),
        reason: reason(&row.entry, &left)?,
        content,
        erased,
        record,
        entry: row.entry,
    })
}

/// The disclosures of an act that were not erased.
///
/// # Errors
/// [`ApiError::Internal`] where one cannot be read.
pub(crate) async fn disclosures_of(tx: &mut Tx, act: Uuid) -> Answer<Vec<Disclosure>> {
    store::disclosures(tx, act)
        .await?
        .iter()
        .map(|text| Disclosure::parse(text).map_err(ApiError::internal))
        .collect()
}

/// Puts the disclosures that are left in the place of their digests; gives the digests of the
/// others.
pub(super) fn reveal_what_is_left(content: &mut Value, left: &[Disclosure]) -> Answer<Vec<String>> {
    let left = left.iter().map(|one| (one.digest(), one)).collect();
    reveal_by_digest(content, &left)
}

/// As [`reveal_what_is_left`], for many records of one act.
///
/// # Errors
/// [`ApiError::Internal`] where content and disclosures do not go together.
pub(crate) fn reveal_by_digest(
    content: &mut Value,
    left: &HashMap<&str, &Disclosure>,
) -> Answer<Vec<String>> {
    let mut digests = BTreeSet::new();
    digests_in(content, &mut digests);
    let own: Vec<Disclosure> = digests
        .iter()
        .filter_map(|digest| left.get(digest.as_str()).copied().cloned())
        .collect();
    reveal(content, &own).map_err(ApiError::internal)
}

fn digests_in(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| digests_in(item, found)),
        Value::Object(members) => {
            for (name, member) in members {
                match (name.as_str(), member.as_array()) {
                    ("_sd", Some(digests)) => {
                        found.extend(
                            digests
                                .iter()
                                .filter_map(|one| one.as_str().map(Into::into)),
                        );
                    }
                    _ => digests_in(member, found),
                }
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Why the act was done, its text in clear where it is left.
pub(super) fn reason(entry: &str, left: &[Disclosure]) -> Answer<Option<Value>> {
    let act = domain::ledger::act::ReadAct::parse(entry).map_err(ApiError::internal)?;
    Ok(act.act.reason.map(|reason| {
        let text = left
            .iter()
            .find(|one| reason.digests.iter().any(|digest| digest == one.digest()))
            .map(|one| one.value().clone());
        serde_json::json!({"code": reason.code, "text": text})
    }))
}

/// Contents of the versions of a subject before `version`, newest first, as the records say them:
/// for subjects that disclose nothing.
pub(crate) async fn contents_before(
    tx: &mut Tx,
    subject: Uuid,
    version: i32,
) -> Answer<Vec<(i32, Value)>> {
    let rows = store::versions(tx, subject, Some(version), 1000).await?;
    rows.into_iter()
        .map(|row| {
            let position = usize::try_from(row.position).map_err(ApiError::internal)?;
            let text = String::from_utf8(row.records).map_err(ApiError::internal)?;
            let line = text
                .lines()
                .nth(position)
                .ok_or_else(|| ApiError::internal("an act lacks the record that stands in it"))?;
            let mut record: Value = serde_json::from_str(line).map_err(ApiError::internal)?;
            let content = record.get_mut("content").map(Value::take);
            Ok((row.version, content.unwrap_or_default()))
        })
        .collect()
}

/// What a version of a subject says, its disclosures in clear where they are left.
///
/// # Errors
/// [`ApiError::NotFound`] where there is no such version.
pub(crate) async fn content_of(tx: &mut Tx, subject: Uuid, version: i32) -> Answer<Value> {
    let row = store::version(tx, subject, version)
        .await?
        .ok_or_else(|| ApiError::missing("record of subject", subject))?;
    Ok(show(tx, row).await?.content)
}

/// The accounts that recorded any version of a subject.
pub(crate) async fn accounts_behind(
    tx: &mut Tx,
    subject: Uuid,
) -> Answer<Vec<domain::id::AccountId>> {
    let rows = store::versions(tx, subject, None, 1000).await?;
    Ok(rows
        .iter()
        .filter_map(|row| row.actor.get("account")?.as_str()?.parse().ok())
        .collect())
}

/// Where a record stands: what a bundle shows of its act.
pub(crate) struct Place {
    /// The signed act.
    pub(crate) entry: String,
    /// The record's exact text.
    pub(crate) record: String,
    /// Its position in the act, from 0.
    pub(crate) position: u64,
    /// From its hash to the act's root, the sibling first.
    pub(crate) path: Vec<String>,
}

impl Place {
    /// The place of a record in a stored act.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where the act does not hold it.
    pub(crate) fn of(entry: String, records: Vec<u8>, position: i16) -> Answer<Self> {
        let position = usize::try_from(position).map_err(ApiError::internal)?;
        let text = String::from_utf8(records).map_err(ApiError::internal)?;
        let record = text
            .lines()
            .nth(position)
            .ok_or_else(|| ApiError::internal("an act lacks the record that stands in it"))?
            .to_owned();
        let hashes: Vec<Hash> = text
            .lines()
            .map(|line| Hash::of_leaf(line.as_bytes()))
            .collect();
        let path = tree::inclusion_proof(&hashes, position).map_err(ApiError::internal)?;
        Ok(Self {
            entry,
            record,
            position: u64::try_from(position).map_err(ApiError::internal)?,
            path: path.iter().map(Hash::to_string).collect(),
        })
    }
}

/// Where a version of a subject stands.
///
/// # Errors
/// [`ApiError::NotFound`] where there is no such version.
pub(crate) async fn place_of(tx: &mut Tx, subject: Uuid, version: i32) -> Answer<Place> {
    let row = store::version(tx, subject, version)
        .await?
        .ok_or_else(|| ApiError::missing("record of subject", subject))?;
    Place::of(row.entry, row.records, row.position)
}
