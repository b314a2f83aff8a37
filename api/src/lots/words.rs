//! The words that orders, lots and samples may use: commodities, uses, jurisdictions, limits.
//!
//! Promises one fault for each word that the vocabulary does not have, and one for each
//! jurisdiction that no limit is known of, since a mistyped word would meet no limit at all.

use crate::{db::Tx, error::Answer, limits, vocabulary};
use diesel::{ExpressionMethods as _, QueryDsl as _};
use diesel_async::RunQueryDsl as _;
use domain::{
    commodities::Graph,
    faults::Faults,
    limits::{Authority, ConditionFacts},
};
use std::{collections::BTreeSet, sync::OnceLock};

/// Codes of the limits that come with the program, and the jurisdictions that they are of.
struct Shipped {
    limits: BTreeSet<&'static str>,
    jurisdictions: BTreeSet<String>,
}

static SHIPPED: OnceLock<Shipped> = OnceLock::new();

fn shipped() -> Answer<&'static Shipped> {
    if let Some(known) = SHIPPED.get() {
        return Ok(known);
    }
    let limits = limits::shipped()?;
    let jurisdictions = limits.iter().filter_map(|limit| match &limit.authority {
        Authority::Law { jurisdiction, .. } => Some(jurisdiction.to_string()),
        Authority::Contract { .. } | Authority::Intake { .. } => None,
    });
    let read = Shipped {
        limits: limits.iter().map(|limit| limit.id.as_str()).collect(),
        jurisdictions: jurisdictions.collect(),
    };
    Ok(SHIPPED.get_or_init(|| read))
}

/// Notes a fault unless the word is a commodity.
///
/// # Errors
/// [`crate::error::ApiError::Internal`], as [`vocabulary::shipped`].
pub(crate) fn commodity(faults: &mut Faults, pointer: &str, word: &str) -> Answer<()> {
    known(faults, pointer, &vocabulary::shipped()?.commodities, word);
    Ok(())
}

/// Notes a fault for each word that is no use.
///
/// # Errors
/// [`crate::error::ApiError::Internal`], as [`vocabulary::shipped`].
pub(crate) fn uses(faults: &mut Faults, pointer: &str, words: &[String]) -> Answer<()> {
    let graph = &vocabulary::shipped()?.uses;
    for (position, word) in words.iter().enumerate() {
        known(faults, &format!("{pointer}/{position}"), graph, word);
    }
    Ok(())
}

fn known(faults: &mut Faults, pointer: &str, graph: &Graph, word: &str) {
    faults.require(graph.entry(word).is_some(), pointer, || {
        let near: Vec<&str> = graph
            .entries()
            .iter()
            .map(|entry| entry.id.as_str())
            .filter(|id| shares_a_word(id, word))
            .take(5)
            .collect();
        if near.is_empty() {
            format!("The vocabulary has no \"{word}\". Look the word up in it.")
        } else {
            let near = near.join(", ");
            format!("The vocabulary has no \"{word}\". It has, among others: {near}.")
        }
    });
}

fn shares_a_word(id: &str, word: &str) -> bool {
    id.split('-')
        .any(|part| word.split('-').any(|asked| asked == part))
}

/// Notes a fault for each jurisdiction that no limit is known of.
///
/// # Errors
/// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
pub(crate) async fn jurisdictions(
    tx: &mut Tx,
    faults: &mut Faults,
    pointer: &str,
    words: &[String],
) -> Answer<()> {
    use crate::schema::limits_limit::dsl;
    let shipped = &shipped()?.jurisdictions;
    if words.iter().all(|word| shipped.contains(word)) {
        return Ok(());
    }
    let laboratory = tx.laboratory_id();
    let own: Vec<Option<String>> = dsl::limits_limit
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::jurisdiction.is_not_null())
        .select(dsl::jurisdiction)
        .distinct()
        .load(tx.connection())
        .await?;
    let mut all = shipped.clone();
    all.extend(own.into_iter().flatten());
    for (position, word) in words.iter().enumerate() {
        faults.require(all.contains(word), format!("{pointer}/{position}"), || {
            let all: Vec<&str> = all.iter().map(String::as_str).collect();
            format!(
                "No limit of a jurisdiction \"{word}\" is known. Known are {}.",
                all.join(", ")
            )
        });
    }
    Ok(())
}

/// Notes a fault for each fact whose limit is not known, neither shipped nor of the laboratory: it
/// would never be asked for.
///
/// # Errors
/// [`crate::error::ApiError::Unavailable`] or [`crate::error::ApiError::Internal`].
pub(crate) async fn conditions(
    tx: &mut Tx,
    faults: &mut Faults,
    pointer: &str,
    facts: &ConditionFacts,
) -> Answer<()> {
    use crate::schema::limits_limit::dsl;
    let shipped = &shipped()?.limits;
    let others: Vec<&String> = facts
        .keys()
        .filter(|code| !shipped.contains(code.as_str()))
        .collect();
    if others.is_empty() {
        return Ok(());
    }
    let laboratory = tx.laboratory_id();
    let own: Vec<String> = dsl::limits_limit
        .filter(dsl::laboratory_id.eq(laboratory))
        .filter(dsl::code.eq_any(&others))
        .select(dsl::code)
        .load(tx.connection())
        .await?;
    for code in others {
        let step = code.replace('~', "~0").replace('/', "~1");
        faults.require(own.contains(code), format!("{pointer}/{step}"), || {
            format!("There is no limit \"{code}\". Look it up in the list.")
        });
    }
    Ok(())
}
