//! What a request for erasure names, and what else holds the same texts.

use super::{
    locating::{Located, locate},
    wire::{EraseDisclosures, ErasureOf},
};
use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ledger,
};
use domain::erasures::{
    HeldIn, SHORTEST_SOUGHT, is_of_the_laboratory, texts_of, value_holds, written_in_json,
};
use std::collections::{BTreeMap, BTreeSet};

/// Everything that goes, and the texts that are looked for.
pub(super) struct Selected {
    /// What goes.
    pub(super) located: Vec<Located>,
    /// The texts that are to stand nowhere afterwards.
    pub(super) texts: Vec<String>,
}

/// What is to be erased.
///
/// # Errors
/// [`ApiError::Invalid`] where a subject or member is not there, or is the laboratory's own, or
/// where the reason repeats what is to be erased.
pub(super) async fn select(tx: &mut Tx, wanted: &EraseDisclosures) -> Answer<Selected> {
    let mut located: BTreeMap<String, Located> = BTreeMap::new();
    for (index, of) in wanted.subjects.iter().enumerate() {
        for one in named(tx, of)
            .await
            .map_err(|refusal| refusal.within(&format!("/subjects/{index}")))?
        {
            located.insert(one.member.digest.clone(), one);
        }
    }
    let texts: BTreeSet<String> = located
        .values()
        .flat_map(|one| texts_of(&one.value))
        .collect();
    if texts
        .iter()
        .any(|text| domain::erasures::holds(&wanted.reason.text, text))
    {
        return Err(ApiError::field(
            "/reason/text",
            "The words repeat what is to be erased. Name the request by its number or date.",
        ));
    }
    if wanted.elsewhere {
        for one in holding(tx, &texts).await? {
            located.entry(one.member.digest.clone()).or_insert(one);
        }
    }
    Ok(Selected {
        located: located.into_values().collect(),
        texts: texts.into_iter().collect(),
    })
}

/// What the request names of one subject.
async fn named(tx: &mut Tx, of: &ErasureOf) -> Answer<Vec<Located>> {
    let acts = ledger::acts_of(tx, of.subject, of.versions.as_deref()).await?;
    if acts.is_empty() {
        return Err(ApiError::field(
            "/subject",
            format!(
                "Nothing is recorded of {} in this laboratory, or not in these versions.",
                of.subject
            ),
        ));
    }
    let disclosures = ledger::disclosures_of_acts(tx, acts).await?;
    let found: Vec<Located> = locate(tx, disclosures)
        .await?
        .into_iter()
        .filter(|one| is_named(of, one))
        .collect();
    if found.is_empty() {
        return Err(ApiError::field(
            "/members",
            format!(
                "{} has no such personal data or free text that is left.",
                of.subject
            ),
        ));
    }
    if found.iter().any(of_the_laboratory) {
        return Err(ApiError::field(
            "/members",
            "Who the laboratory is is no personal data: certificates must state it.",
        ));
    }
    Ok(found)
}

fn is_named(of: &ErasureOf, one: &Located) -> bool {
    let member = &one.member;
    let by_member =
        |members: &Vec<String>| members.iter().any(|pattern| names(pattern, &member.member));
    if member.held_in == HeldIn::Act {
        return of.members.as_ref().is_some_and(by_member);
    }
    let version = member.version.and_then(|number| i32::try_from(number).ok());
    member.subject == Some(of.subject)
        && of
            .versions
            .as_ref()
            .is_none_or(|some| version.is_some_and(|number| some.contains(&number)))
        && of.members.as_ref().is_none_or(by_member)
}

/// Whether a path, with `*` for any element, names the pointer.
fn names(path: &str, pointer: &str) -> bool {
    path.split('/').count() == pointer.split('/').count()
        && path
            .split('/')
            .zip(pointer.split('/'))
            .all(|(part, name)| part == "*" || part == name)
}

fn of_the_laboratory(one: &Located) -> bool {
    let kind = one.member.kind.as_deref().unwrap_or_default();
    is_of_the_laboratory(one.member.held_in, kind, &one.member.member)
}

/// What else of the laboratory holds one of the texts.
async fn holding(tx: &mut Tx, texts: &BTreeSet<String>) -> Answer<Vec<Located>> {
    let sought: Vec<String> = texts
        .iter()
        .filter(|text| text.chars().count() >= SHORTEST_SOUGHT)
        .map(|text| written_in_json(text))
        .collect();
    if sought.is_empty() {
        return Ok(Vec::new());
    }
    let mut disclosures = ledger::disclosures_holding(tx, sought).await?;
    disclosures.retain(|(_, one)| texts.iter().any(|text| value_holds(one.value(), text)));
    let mut found = locate(tx, disclosures).await?;
    found.retain(|one| !of_the_laboratory(one));
    Ok(found)
}
