//! The words that orders, lots and samples may use: commodities, uses, jurisdictions.
//!
//! Promises one fault for each word that the vocabulary does not have, and one for each
//! jurisdiction that no limit is known of, since a mistyped word would meet no limit at all.

use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use diesel::{ExpressionMethods as _, QueryDsl as _};
use diesel_async::RunQueryDsl as _;
use domain::{
    commodities::{Graph, Vocabulary},
    faults::Faults,
    limits::{Authority, shipped_limits},
};
use std::{collections::BTreeSet, sync::OnceLock};

static VOCABULARY: OnceLock<Vocabulary> = OnceLock::new();
static LAWS: OnceLock<BTreeSet<String>> = OnceLock::new();

/// The vocabulary, read once.
///
/// # Errors
/// [`ApiError::Internal`] where the shipped tables are no vocabulary.
pub(crate) fn vocabulary() -> Answer<&'static Vocabulary> {
    if let Some(known) = VOCABULARY.get() {
        return Ok(known);
    }
    let read = Vocabulary::shipped().map_err(ApiError::internal)?;
    Ok(VOCABULARY.get_or_init(|| read))
}

/// The jurisdictions whose limits come with the service.
fn laws() -> Answer<&'static BTreeSet<String>> {
    if let Some(known) = LAWS.get() {
        return Ok(known);
    }
    let read = shipped_limits()
        .map_err(ApiError::internal)?
        .into_iter()
        .filter_map(|limit| match limit.authority {
            Authority::Law { jurisdiction, .. } => Some(jurisdiction.to_string()),
            Authority::Contract { .. } | Authority::Intake { .. } => None,
        })
        .collect();
    Ok(LAWS.get_or_init(|| read))
}

/// Notes a fault unless the word is a commodity.
///
/// # Errors
/// [`ApiError::Internal`], as [`vocabulary`].
pub(crate) fn commodity(faults: &mut Faults, pointer: &str, word: &str) -> Answer<()> {
    known(faults, pointer, &vocabulary()?.commodities, word);
    Ok(())
}

/// Notes a fault for each word that is no use.
///
/// # Errors
/// [`ApiError::Internal`], as [`vocabulary`].
pub(crate) fn uses(faults: &mut Faults, pointer: &str, words: &[String]) -> Answer<()> {
    let graph = &vocabulary()?.uses;
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
/// [`ApiError::Unavailable`] or [`ApiError::Internal`].
pub(crate) async fn jurisdictions(
    tx: &mut Tx,
    faults: &mut Faults,
    pointer: &str,
    words: &[String],
) -> Answer<()> {
    use crate::schema::limits_limit::dsl;
    let shipped = laws()?;
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
