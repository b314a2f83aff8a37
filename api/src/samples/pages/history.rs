//! The history of a sample: acts, newest first, with what each changed.

use super::store::Names;
use crate::{
    db::Tx,
    error::Answer,
    ledger::{self, TrailAct, TrailVersion},
    pages::{Frame, analyte, capital, member, plain},
    results::Dossier,
};
use domain::{
    analytes::Analyte, corrections::Correction, holds::HoldKind, versions::SubjectVersion,
};
use serde_json::Value;
use std::collections::{BTreeSet, HashMap};
use uuid::Uuid;

/// Most acts that one page shows.
const MOST: i64 = 100;

/// An act, as an item.
pub(super) struct ActView {
    /// When, as HTML.
    pub(super) at: String,
    /// Who, and in which role.
    pub(super) who: String,
    /// What was done.
    pub(super) what: String,
    /// Why; empty where no reason was due.
    pub(super) why: String,
    /// What it recorded.
    pub(super) records: Vec<RecordView>,
    /// How many members changed in all.
    pub(super) changes: usize,
}

/// A version that the act recorded.
pub(super) struct RecordView {
    /// Kind, and version where it is not the first.
    pub(super) name: String,
    /// What changed from the version before.
    pub(super) changes: Vec<ChangeView>,
}

/// A member that changed.
pub(super) struct ChangeView {
    /// Where it stands.
    pub(super) member: String,
    /// What it was; empty where it was not there.
    pub(super) before: String,
    /// What it is; empty where it is gone.
    pub(super) after: String,
}

/// The acts, and whether there are older ones.
pub(super) async fn of(
    tx: &mut Tx,
    frame: &Frame,
    names: &Names,
    dossier: &Dossier,
) -> Answer<(Vec<ActView>, bool)> {
    let mut subjects: BTreeSet<Uuid> = BTreeSet::from([dossier.id]);
    subjects.extend(dossier.preparations.iter().map(|(id, _)| *id));
    subjects.extend(dossier.runs.iter().map(|run| run.id));
    subjects.extend(dossier.results.iter().map(|result| result.id));
    subjects.extend(dossier.holds.iter().map(|hold| hold.id));
    let acts = ledger::trail(tx, &subjects, &["review"], MOST).await?;
    let is_cut = i64::try_from(acts.len()).is_ok_and(|number| number >= MOST);
    let known: HashMap<(Uuid, u64), &Value> = acts
        .iter()
        .flat_map(|act| &act.versions)
        .map(|version| ((version.subject, version.version), &version.content))
        .collect();
    let views = acts
        .iter()
        .map(|act| view(frame, names, &known, act))
        .collect();
    Ok((views, is_cut))
}

fn view(
    frame: &Frame,
    names: &Names,
    known: &HashMap<(Uuid, u64), &Value>,
    act: &TrailAct,
) -> ActView {
    let records: Vec<RecordView> = act
        .versions
        .iter()
        .map(|version| RecordView {
            name: name(version),
            changes: changes(known, version),
        })
        .collect();
    ActView {
        at: frame.moment(act.at),
        who: who(names, &act.actor),
        what: capital(&plain(&act.action)),
        why: act.reason.as_ref().map(why).unwrap_or_default(),
        changes: records.iter().map(|record| record.changes.len()).sum(),
        records,
    }
}

fn id_of(actor: &Value, name: &str) -> Option<Uuid> {
    actor.get(name)?.as_str()?.parse().ok()
}

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value.get(name).and_then(Value::as_str).unwrap_or_default()
}

fn who(names: &Names, actor: &Value) -> String {
    let id = id_of(actor, "account").or_else(|| id_of(actor, "client"));
    match id {
        Some(id) => format!("{} ({})", names.of(id), plain(text(actor, "role"))),
        None => format!("the service ({})", plain(text(actor, "process"))),
    }
}

fn why(reason: &Value) -> String {
    let code = capital(&plain(text(reason, "code")));
    match reason.get("text").and_then(Value::as_str) {
        Some(words) => format!("{code}: {words}"),
        None => format!("{code} (the words were erased)"),
    }
}

/// `Result, total aflatoxins, version 3`.
fn name(version: &TrailVersion) -> String {
    let mut parts = vec![capital(&plain(&version.kind))];
    let content = &version.content;
    match version.kind.as_str() {
        "result" => {
            let slug: Result<Analyte, _> = text(content, "analyte").parse();
            parts.extend(slug.ok().map(|one| analyte(one).to_owned()));
            parts.push(plain(text(content, "state")));
        }
        "hold" => {
            let kind: Option<HoldKind> =
                serde_json::from_value(content.get("kind").cloned().unwrap_or_default()).ok();
            parts.extend(kind.map(|kind| plain(kind.word())));
            if content.get("lifted").is_some() {
                parts.push("lifted".to_owned());
            }
        }
        "review" => parts.push(plain(text(content, "meaning"))),
        _ => {}
    }
    if version.version > 1 {
        parts.push(format!("version {}", version.version));
    }
    parts.join(", ")
}

/// What changed from the version before, where that one is among the acts; which versions a
/// derived record came from is left out.
fn changes(known: &HashMap<(Uuid, u64), &Value>, version: &TrailVersion) -> Vec<ChangeView> {
    let before = version
        .version
        .checked_sub(1)
        .and_then(|number| known.get(&(version.subject, number)));
    let Some(before) = before else {
        return Vec::new();
    };
    let of = SubjectVersion {
        subject: version.subject,
        version: 1,
    };
    let Ok(difference) = Correction::between(of, before, &version.content, &[]) else {
        return Vec::new();
    };
    difference
        .changes
        .into_iter()
        .filter(|change| {
            !change.pointer.starts_with("/from/") && !change.pointer.contains("/reasons/")
        })
        .map(|change| ChangeView {
            member: member(&change.pointer),
            before: change.before.as_ref().map(said).unwrap_or_default(),
            after: change.after.as_ref().map(said).unwrap_or_default(),
        })
        .collect()
}

fn said(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Null | Value::Number(_) | Value::Array(_) | Value::Object(_) => value.to_string(),
    }
}
