//! Finds which member each disclosure fills: in a record, in the reason of an act, or in a
//! certificate.

use crate::{
    certificates,
    db::Tx,
    error::{Answer, ApiError},
    ledger::{self, ActRow},
};
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::{
    erasures::{ErasedMember, HeldIn, digests_in, stands_in, step},
    ledger::{Disclosure, Record, act::ReadAct},
    time::Moment,
};
use serde_json::Value;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A disclosure, and the member that it fills.
pub(super) struct Located {
    /// What is recorded of it when it is erased.
    pub(super) member: ErasedMember,
    /// What it says.
    pub(super) value: Value,
    /// When its act was recorded.
    pub(super) recorded_at: Moment,
}

/// The members that disclosures fill, in the order of act and member.
///
/// # Errors
/// [`ApiError::Internal`] where what is stored cannot be read.
pub(super) async fn locate(
    tx: &mut Tx,
    disclosures: Vec<(Uuid, Disclosure)>,
) -> Answer<Vec<Located>> {
    let mut by_act: BTreeMap<Uuid, BTreeMap<String, Disclosure>> = BTreeMap::new();
    for (act, one) in disclosures {
        by_act
            .entry(act)
            .or_default()
            .insert(one.digest().to_owned(), one);
    }
    let mut found = Vec::new();
    for act in ledger::acts(tx, by_act.keys().copied().collect()).await? {
        let wanted = by_act.remove(&act.act_id).unwrap_or_default();
        in_act(tx, act, wanted, &mut found).await?;
    }
    found.sort_by(|one, other| {
        let key = |located: &Located| (located.member.act, located.member.held_in);
        key(one)
            .cmp(&key(other))
            .then_with(|| one.member.subject.cmp(&other.member.subject))
            .then_with(|| one.member.member.cmp(&other.member.member))
    });
    Ok(found)
}

async fn in_act(
    tx: &mut Tx,
    act: ActRow,
    mut wanted: BTreeMap<String, Disclosure>,
    found: &mut Vec<Located>,
) -> Answer<()> {
    let recorded_at = act.recorded_at.into();
    let text = String::from_utf8(act.records).map_err(ApiError::internal)?;
    let mut issued = Vec::new();
    for line in text.lines() {
        let record = Record::parse(line.as_bytes()).map_err(ApiError::internal)?;
        for (digest, object) in digests_in(&record.content) {
            if let Some(one) = wanted.remove(&digest) {
                found.push(located(
                    HeldIn::Record,
                    &record,
                    &object,
                    &one,
                    recorded_at,
                )?);
            }
        }
        if record.kind == "certificate" && record.version == 1 {
            issued.push(record);
        }
    }
    for record in issued {
        let Some(signed) = certificates::signed_text(tx, record.subject).await? else {
            continue;
        };
        for (digest, object) in digests_in(&payload(&signed)?) {
            if let Some(one) = wanted.remove(&digest) {
                let held_in = HeldIn::Certificate;
                found.push(located(held_in, &record, &object, &one, recorded_at)?);
            }
        }
    }
    let parsed = ReadAct::parse(&act.entry).map_err(ApiError::internal)?.act;
    for (digest, one) in wanted {
        // What is left belongs to the act itself: the words of its reason.
        let member = format!("/reason/{}", step(one.name()));
        found.push(Located {
            value: one.value().clone(),
            recorded_at,
            member: ErasedMember {
                digest,
                held_in: HeldIn::Act,
                stands_in: stands_in(&member, one.value(), Uuid::nil()),
                member,
                act: parsed.id,
                kind: None,
                subject: None,
                version: None,
            },
        });
    }
    Ok(())
}

fn located(
    held_in: HeldIn,
    record: &Record,
    object: &str,
    one: &Disclosure,
    recorded_at: Moment,
) -> Answer<Located> {
    let member = format!("{object}/{}", step(one.name()));
    Ok(Located {
        value: one.value().clone(),
        recorded_at,
        member: ErasedMember {
            digest: one.digest().to_owned(),
            held_in,
            stands_in: stands_in(&member, one.value(), record.subject),
            member,
            act: record.act,
            kind: Some(record.kind.clone()),
            subject: Some(record.subject),
            version: Some(u32::try_from(record.version).map_err(ApiError::internal)?),
        },
    })
}

/// What a certificate says, its disclosures concealed.
fn payload(signed: &str) -> Answer<Value> {
    let part = signed
        .split('~')
        .next()
        .and_then(|jws| jws.split('.').nth(1))
        .ok_or_else(|| ApiError::internal("a kept certificate is no signed certificate"))?;
    let bytes = URL_SAFE_NO_PAD.decode(part).map_err(ApiError::internal)?;
    serde_json::from_slice(&bytes).map_err(ApiError::internal)
}
