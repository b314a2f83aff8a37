//! What an order, a lot and the adopted limits ask of a result.

use std::collections::HashMap;
use std::sync::Arc;

use chrono::NaiveDate;

use super::{Dossier, SharedFacts};
use crate::analytes::Analyte;
use crate::decisions::DecisionRule;
use crate::id::{CustomerId, LimitId, SiteId};
use crate::limits::{
    Applied, ConditionFacts, Jurisdiction, OwnQuery, Query, QueryError, applicable_bearing,
    applicable_own,
};
use crate::procedures::Procedure;
use crate::rounding::TieRule;
use crate::versions::SubjectVersion;

/// What is asked of one result.
pub(super) struct Settings {
    pub(super) number_wanted: bool,
    pub(super) rule: DecisionRule,
    pub(super) conditions: ConditionFacts,
    found: Arc<Vec<Found>>,
}

/// A limit that applies: its place among the adopted ones, and why.
#[derive(Debug)]
struct Found {
    index: usize,
    why: String,
    condition: Option<String>,
}

/// By what the limits of one result are found.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Asked {
    /// What was measured.
    pub analyte: Analyte,
    /// The lot's commodity, else the sample's.
    pub commodity: String,
    /// What the goods are meant for: as the order says, else the lot.
    pub uses: Vec<String>,
    /// Whose law: as the order says, else the lot.
    pub jurisdictions: Vec<String>,
    /// The day whose limits are in force: as the order says, else the lot's arrival.
    pub date: NaiveDate,
    /// Parties of the lot and of the order, whose contracts may bind.
    pub parties: Vec<CustomerId>,
    /// The sample's site, whose own limits may bind.
    pub site: Option<SiteId>,
    /// Limits that the order names.
    pub named: Vec<LimitId>,
}

/// The limits that apply, found once for all results that ask alike of the same adopted limits.
#[derive(Debug, Default)]
pub struct LimitsThatApply(HashMap<Asked, Arc<Vec<Found>>>);

impl Settings {
    /// What is asked of the result of one analyte.
    pub(super) fn of(
        shared: &dyn SharedFacts,
        dossier: &Dossier<'_>,
        analyte: Analyte,
        procedure: Option<&Procedure>,
        known: &mut LimitsThatApply,
    ) -> Result<Self, QueryError> {
        let order = dossier.order.map(|order| order.content);
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
        let found = match known.0.get(&asked) {
            Some(found) => Arc::clone(found),
            None => {
                let found = Arc::new(find(shared, &asked)?);
                known.0.insert(asked, Arc::clone(&found));
                found
            }
        };
        Ok(Self {
            number_wanted: order.is_some_and(|order| order.wants_number_above_limit(analyte)),
            rule,
            conditions: dossier
                .lot
                .map(|lot| lot.content.condition_facts.clone())
                .unwrap_or_default(),
            found,
        })
    }

    /// The limits, as the rules of decisions take them.
    pub(super) fn applied<'a>(&self, shared: &'a dyn SharedFacts) -> Vec<Applied<'a>> {
        self.found
            .iter()
            .filter_map(|found| {
                Some(Applied {
                    limit: shared.limits().get(found.index)?,
                    why: found.why.clone(),
                    condition: found.condition.clone(),
                })
            })
            .collect()
    }

    /// The versions of the limits.
    pub(super) fn sources(&self, shared: &dyn SharedFacts) -> Vec<SubjectVersion> {
        let sources = shared.limit_sources();
        let found = self.found.iter();
        found
            .filter_map(|found| sources.get(found.index).copied())
            .collect()
    }
}

/// The order's uses and jurisdictions, else the lot's; the order's governing date, else the day
/// of arrival.
#[must_use]
pub fn asked(dossier: &Dossier<'_>, analyte: Analyte) -> Asked {
    let order = dossier.order.map(|order| order.content);
    let lot = dossier.lot.map(|lot| lot.content);
    let sample = dossier.sample.content;
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
        commodity: lot.map_or(&sample.commodity, |lot| &lot.commodity).clone(),
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
            .unwrap_or_else(|| sample.received_at.utc().date_naive()),
        parties,
        site: sample.site,
        named: order
            .map(|order| order.contract_limits.clone())
            .unwrap_or_default(),
    }
}

fn find(shared: &dyn SharedFacts, asked: &Asked) -> Result<Vec<Found>, QueryError> {
    let (limits, vocabulary) = (shared.limits(), shared.vocabulary());
    let mut found: Vec<Found> = Vec::new();
    let mut add = |applied: Vec<Applied<'_>>| {
        for one in applied {
            let place = limits.iter().position(|limit| limit.id == one.limit.id);
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
            add(applicable_bearing(limits, vocabulary, &query)?);
        }
        let own = OwnQuery {
            parties: asked.parties.clone(),
            site: asked.site,
            analyte: asked.analyte,
            commodity: asked.commodity.clone(),
            intended_use: use_of.clone(),
            date: asked.date,
        };
        add(applicable_own(limits, vocabulary, &own)?);
    }
    for (index, source) in shared.limit_sources().iter().enumerate() {
        let named = asked.named.iter().any(|limit| limit.0 == source.subject);
        let bears = limits
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
    found.sort_by_key(|one| limits.get(one.index).map(|limit| limit.id.clone()));
    Ok(found)
}
