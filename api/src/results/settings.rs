//! What an order, a lot and the adopted limits ask of a result.

use super::{dossier::Dossier, reference::Reference};
use crate::error::{Answer, ApiError};
use chrono::NaiveDate;
use domain::{
    analytes::Analyte,
    decisions::DecisionRule,
    id::CustomerId,
    limits::{
        Applied, ConditionFacts, Jurisdiction, OwnQuery, Query, applicable_bearing, applicable_own,
    },
    procedures::Procedure,
    rounding::TieRule,
    versions::SubjectVersion,
};
use std::{collections::HashMap, sync::Arc};

/// What is asked of one result.
pub(crate) struct Settings {
    pub(crate) number_wanted: bool,
    pub(crate) rule: DecisionRule,
    pub(crate) conditions: ConditionFacts,
    found: Arc<Vec<Found>>,
}

/// A limit that applies: its place among the adopted ones, and why.
struct Found {
    index: usize,
    why: String,
    condition: Option<String>,
}

#[derive(PartialEq, Eq, Hash)]
pub(super) struct Asked {
    analyte: Analyte,
    pub(super) commodity: String,
    uses: Vec<String>,
    pub(super) jurisdictions: Vec<String>,
    pub(super) date: NaiveDate,
    parties: Vec<CustomerId>,
    site: Option<domain::id::SiteId>,
    named: Vec<domain::id::LimitId>,
}

/// The limits that apply, found once for all samples that ask alike.
#[derive(Default)]
pub(crate) struct LimitsThatApply(HashMap<Asked, Arc<Vec<Found>>>);

impl Settings {
    /// The limits, as the domain's rules take them.
    pub(crate) fn applied<'a>(&self, reference: &'a Reference) -> Vec<Applied<'a>> {
        self.found
            .iter()
            .filter_map(|found| {
                Some(Applied {
                    limit: reference.limits.get(found.index)?,
                    why: found.why.clone(),
                    condition: found.condition.clone(),
                })
            })
            .collect()
    }

    /// The versions of the limits.
    pub(crate) fn sources(&self, reference: &Reference) -> Vec<SubjectVersion> {
        self.found
            .iter()
            .filter_map(|found| reference.limit_sources.get(found.index).copied())
            .collect()
    }
}

/// What is asked of the result of one analyte.
pub(crate) fn settings_of(
    reference: &Reference,
    dossier: &Dossier,
    analyte: Analyte,
    procedure: Option<&Procedure>,
    cache: &mut LimitsThatApply,
) -> Answer<Settings> {
    let order = dossier.order.as_ref().map(|(_, order)| &order.content);
    let rounding_tie = procedure.map_or(TieRule::HalfEven, |one| one.entry.rounding.tie);
    let cut_off = procedure.and_then(|one| {
        one.entry
            .screening
            .iter()
            .find(|cut_off| cut_off.analyte == analyte)
    });
    let rule = order
        .and_then(|order| order.decision_rule)
        .and_then(|agreed| DecisionRule::agreed(agreed, rounding_tie, cut_off))
        .unwrap_or(DecisionRule::Simple);
    let asked = asked(dossier, analyte);
    let found = match cache.0.get(&asked) {
        Some(found) => Arc::clone(found),
        None => {
            let found = Arc::new(find(reference, &asked)?);
            cache.0.insert(asked, Arc::clone(&found));
            found
        }
    };
    Ok(Settings {
        number_wanted: order.is_some_and(|order| order.wants_number_above_limit(analyte)),
        rule,
        conditions: dossier
            .lot
            .as_ref()
            .map(|(_, lot)| lot.content.condition_facts.clone())
            .unwrap_or_default(),
        found,
    })
}

/// The order's uses and jurisdictions, else the lot's; the order's governing date, else the day
/// of arrival.
pub(super) fn asked(dossier: &Dossier, analyte: Analyte) -> Asked {
    let order = dossier.order.as_ref().map(|(_, order)| &order.content);
    let lot = dossier.lot.as_ref().map(|(_, lot)| &lot.content);
    let chosen = |ordered: Option<&Vec<String>>, of_lot: Option<&Vec<String>>| {
        ordered
            .filter(|words| !words.is_empty())
            .or(of_lot)
            .cloned()
            .unwrap_or_default()
    };
    let mut parties: Vec<CustomerId> = lot
        .iter()
        .flat_map(|lot| {
            lot.parties
                .iter()
                .map(|party| party.customer)
                .chain(lot.customer)
        })
        .chain(order.map(|order| order.customer))
        .collect();
    parties.sort_unstable();
    parties.dedup();
    Asked {
        analyte,
        commodity: lot
            .map_or(&dossier.sample.content.commodity, |lot| &lot.commodity)
            .clone(),
        uses: chosen(
            order.map(|one| &one.uses),
            lot.map(|one| &one.intended_uses),
        ),
        jurisdictions: chosen(
            order.map(|one| &one.jurisdictions),
            lot.map(|one| &one.jurisdictions),
        ),
        date: order
            .and_then(|order| order.governing_date)
            .or(lot.map(|lot| lot.arrived_on))
            .unwrap_or_else(|| dossier.sample.content.received_at.utc().date_naive()),
        parties,
        site: dossier.sample.content.site,
        named: order
            .map(|order| order.contract_limits.clone())
            .unwrap_or_default(),
    }
}

fn find(reference: &Reference, asked: &Asked) -> Answer<Vec<Found>> {
    let mut found: Vec<Found> = Vec::new();
    let mut add = |applied: Vec<Applied<'_>>| {
        for one in applied {
            let place = reference
                .limits
                .iter()
                .position(|limit| limit.id == one.limit.id);
            if let Some(index) = place
                && !found.iter().any(|other| other.index == index)
            {
                found.push(Found {
                    index,
                    why: one.why,
                    condition: one.condition,
                });
            }
        }
    };
    for use_of in &asked.uses {
        for jurisdiction in &asked.jurisdictions {
            // Orders and lots were checked when they were entered: what is no jurisdiction has no
            // limits.
            let Ok(jurisdiction) = jurisdiction.parse::<Jurisdiction>() else {
                continue;
            };
            let query = Query {
                jurisdiction,
                analyte: asked.analyte,
                commodity: asked.commodity.clone(),
                intended_use: use_of.clone(),
                date: asked.date,
            };
            add(
                applicable_bearing(&reference.limits, &reference.vocabulary, &query)
                    .map_err(ApiError::internal)?,
            );
        }
        let own = OwnQuery {
            parties: asked.parties.clone(),
            site: asked.site,
            analyte: asked.analyte,
            commodity: asked.commodity.clone(),
            intended_use: use_of.clone(),
            date: asked.date,
        };
        add(
            applicable_own(&reference.limits, &reference.vocabulary, &own)
                .map_err(ApiError::internal)?,
        );
    }
    for (index, source) in reference.limit_sources.iter().enumerate() {
        let named = asked.named.iter().any(|limit| limit.0 == source.subject);
        let bears = reference
            .limits
            .get(index)
            .is_some_and(|limit| asked.analyte.bears_on(limit.analyte));
        if named && bears && !found.iter().any(|other| other.index == index) {
            found.push(Found {
                index,
                why: "the order names it".to_owned(),
                condition: None,
            });
        }
    }
    found.sort_by_key(|one| {
        reference
            .limits
            .get(one.index)
            .map(|limit| limit.id.clone())
    });
    Ok(found)
}
