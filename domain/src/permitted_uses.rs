//! Where a load may still lawfully go: every use on which the law of the chosen jurisdictions has
//! a word, with its limits and decisions.
//!
//! Promises one row a jurisdiction and use, best first, and that a recommendation is told from a
//! prohibition. Refuses goods that the vocabulary does not have; says nothing of uses without a
//! limit, and always that the local authority decides.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::commodities::{Entry, Vocabulary};
use crate::decisions::{Decision, DecisionRule, Measured, Verdict, decide};
use crate::limits::{
    Applied, Authority, AuthorityKind, ConditionFacts, ConditionState, Jurisdiction, Limit,
    LimitState, Query, QueryError, applicable_bearing,
};

/// What must stand beside every list of permitted uses.
pub const CAUTION: &str = "The local authority decides where the load may go. This list compares \
    one toxin, as found in the sample tested, with the limits that were adopted here; it says \
    nothing of other toxins, of dilution or mixing, which many laws forbid, or of uses without a \
    limit.";

/// A load and its result.
#[derive(Debug, Clone, Copy)]
pub struct Load<'a> {
    /// The result.
    pub measured: &'a Measured,
    /// What the good is known to be.
    pub commodity: &'a str,
    /// Whose law is asked, in the order of display.
    pub jurisdictions: &'a [Jurisdiction],
    /// The lot's governing date.
    pub date: NaiveDate,
    /// Conditions that were recorded.
    pub facts: &'a ConditionFacts,
    /// The decision rule.
    pub rule: &'a DecisionRule,
}

/// What the decisions for one use come to, from best to worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Outlook {
    /// Within every limit.
    Open,
    /// Within every limit, one of them only conditionally.
    OpenWithDoubt,
    /// Over none that could be decided, and one could not.
    Unsettled,
    /// Over a recommendation, and over no binding limit.
    AboveGuidance,
    /// Suspect, or over a binding limit only conditionally.
    Doubtful,
    /// Over a binding limit.
    Closed,
}

impl Outlook {
    /// What it means, to stand where it is shown.
    ///
    /// ```
    /// use domain::permitted_uses::Outlook;
    /// assert!(Outlook::Closed.explanation().contains("over a binding limit"));
    /// ```
    #[must_use]
    pub const fn explanation(self) -> &'static str {
        match self {
            Self::Open => "The result is within every limit that applies to this use.",
            Self::OpenWithDoubt => {
                "The result is within every limit that applies to this use, but close to one."
            }
            Self::Unsettled => {
                "No limit was found exceeded, but one could not be decided: its reason says what \
                 is missing."
            }
            Self::AboveGuidance => {
                "The result is over a guidance or advisory level for this use, which recommends \
                 and does not bind, and over no binding limit."
            }
            Self::Doubtful => {
                "The result is suspect, or over a limit by less than the guard band: a \
                 confirmatory analysis decides."
            }
            Self::Closed => "The result is over a binding limit for this use.",
        }
    }
}

/// One limit for a use, and what was decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct UseDecision {
    /// How binding the limit is.
    pub authority_kind: AuthorityKind,
    /// Document and entry.
    pub source: String,
    /// Why the limit applies.
    pub why: String,
    /// The condition of the limit.
    pub condition: ConditionState,
    /// Whether nobody has read the value in its source.
    pub unverified: bool,
    /// The decision.
    pub decision: Decision,
}

/// One use under one jurisdiction.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PermittedUse {
    /// Whose law.
    pub jurisdiction: Jurisdiction,
    /// The use's id.
    pub intended_use: String,
    /// The use's name.
    pub name: String,
    /// What the decisions come to.
    pub outlook: Outlook,
    /// A use right above this one with the very same limits: a short list shows that one only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_as: Option<String>,
    /// The limits, by id, each with its decision.
    pub decisions: Vec<UseDecision>,
}

/// Every use on which the law has a word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct PermittedUses {
    /// What the list does not say; shown with it.
    pub caution: String,
    /// By jurisdiction as chosen, best outlook first, then in the order of the vocabulary.
    pub uses: Vec<PermittedUse>,
    /// Jurisdictions without a limit for this good and toxin on the date.
    pub without_limits: Vec<Jurisdiction>,
}

/// Where a load may still go.
///
/// Limits that are retired are left out, and so are those whose condition is recorded as not met.
/// Proposed ones stand as undecided: somebody must adopt them first.
///
/// # Errors
/// [`QueryError`] for a commodity that the vocabulary does not have.
///
/// ```
/// use domain::commodities::Vocabulary;
/// use domain::decisions::{DecisionRule, Measured};
/// use domain::limits::{shipped_limits, LimitState, QueryError};
/// use domain::permitted_uses::{permitted_uses, Load, Outlook};
/// let vocabulary = Vocabulary::shipped()?;
/// let mut limits = shipped_limits()?;
/// limits.iter_mut().for_each(|limit| limit.state = LimitState::Adopted);
/// let measured: Measured = serde_json::from_str(r#"{"analyte":"aflatoxin-total",
///     "finding":{"kind":"quantified","value":"150"},"method":"strip"}"#)?;
/// let load = Load {
///     measured: &measured,
///     commodity: "maize-grain",
///     jurisdictions: &["US".parse()?],
///     date: "2026-03-01".parse()?,
///     facts: &Default::default(),
///     rule: &DecisionRule::Simple,
/// };
/// let list = permitted_uses(&limits, &vocabulary, &load)?;
/// let outlook = |id: &str| list.uses.iter().find(|u| u.intended_use == id).map(|u| u.outlook);
/// assert_eq!(outlook("feed-dairy-cattle"), Some(Outlook::Closed));
/// assert_eq!(outlook("feed-finishing-beef"), Some(Outlook::Open));
///
/// let unknown = Load { commodity: "corn", ..load };
/// let refusal = permitted_uses(&limits, &vocabulary, &unknown);
/// assert_eq!(refusal, Err(QueryError::UnknownCommodity("corn".into())));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn permitted_uses(
    limits: &[Limit],
    vocabulary: &Vocabulary,
    load: &Load<'_>,
) -> Result<PermittedUses, QueryError> {
    let mut list = PermittedUses {
        caution: CAUTION.to_owned(),
        uses: Vec::new(),
        without_limits: Vec::new(),
    };
    for jurisdiction in load.jurisdictions {
        let mut rows = Vec::new();
        for entry in vocabulary.uses.entries() {
            rows.extend(one_use(limits, vocabulary, load, jurisdiction, entry)?);
        }
        if rows.is_empty() {
            list.without_limits.push(jurisdiction.clone());
        }
        name_same(&mut rows, vocabulary);
        rows.sort_by_key(|row| row.outlook);
        list.uses.append(&mut rows);
    }
    Ok(list)
}

/// One use; none where no limit applies.
fn one_use(
    limits: &[Limit],
    vocabulary: &Vocabulary,
    load: &Load<'_>,
    jurisdiction: &Jurisdiction,
    entry: &Entry,
) -> Result<Option<PermittedUse>, QueryError> {
    let query = Query {
        jurisdiction: jurisdiction.clone(),
        analyte: load.measured.analyte,
        commodity: load.commodity.to_owned(),
        intended_use: entry.id.clone(),
        date: load.date,
    };
    let decisions: Vec<UseDecision> = applicable_bearing(limits, vocabulary, &query)?
        .iter()
        .filter_map(|applied| decide_use(load, applied))
        .collect();
    if decisions.is_empty() {
        return Ok(None);
    }
    Ok(Some(PermittedUse {
        jurisdiction: jurisdiction.clone(),
        intended_use: entry.id.clone(),
        name: entry.name.clone(),
        outlook: outlook(&decisions),
        same_as: None,
        decisions,
    }))
}

fn decide_use(load: &Load<'_>, applied: &Applied<'_>) -> Option<UseDecision> {
    let limit = applied.limit;
    let Authority::Law { authority_kind, .. } = limit.authority else {
        return None;
    };
    let condition = applied.condition_state(load.facts);
    if limit.state == LimitState::Retired || matches!(condition, ConditionState::NotMet(_)) {
        return None;
    }
    Some(UseDecision {
        authority_kind,
        source: limit.source.clone(),
        why: applied.why.clone(),
        unverified: limit.is_unverified(),
        decision: decide(load.measured, load.rule, limit, &condition),
        condition,
    })
}

/// The worst that any of the decisions says.
fn outlook(decisions: &[UseDecision]) -> Outlook {
    let of_one = |one: &UseDecision| match (&one.decision.decision, one.authority_kind.is_binding())
    {
        (Verdict::Pass | Verdict::Negative, _) => Outlook::Open,
        (Verdict::ConditionalPass, _) => Outlook::OpenWithDoubt,
        (Verdict::Undecided { .. }, _) => Outlook::Unsettled,
        (Verdict::ConditionalFail | Verdict::Suspect | Verdict::Fail, false) => {
            Outlook::AboveGuidance
        }
        (Verdict::ConditionalFail | Verdict::Suspect, true) => Outlook::Doubtful,
        (Verdict::Fail, true) => Outlook::Closed,
    };
    decisions
        .iter()
        .map(of_one)
        .max()
        .unwrap_or(Outlook::Unsettled)
}

/// Names, for each row, a use right above it that is listed with the very same limits.
fn name_same(rows: &mut [PermittedUse], vocabulary: &Vocabulary) {
    let limits_of = |row: &PermittedUse| -> Vec<(String, ConditionState)> {
        let one = |u: &UseDecision| (u.decision.limit.clone(), u.condition.clone());
        row.decisions.iter().map(one).collect()
    };
    let listed: Vec<_> = rows
        .iter()
        .map(|row| (row.intended_use.clone(), limits_of(row)))
        .collect();
    for row in rows {
        let limits = limits_of(row);
        let parents = vocabulary
            .uses
            .entry(&row.intended_use)
            .map(|entry| &entry.parents);
        row.same_as = parents.into_iter().flatten().find_map(|parent| {
            let found = listed.iter().find(|(id, _)| id == parent)?;
            (found.1 == limits).then(|| parent.clone())
        });
    }
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may")]
    use super::*;
    use crate::analytes::Analyte;
    use crate::decisions::{Finding, Method, Undecided};
    use crate::limits::shipped_limits;
    use crate::quantity::{Concentration, parse_decimal};

    fn adopted() -> Vec<Limit> {
        let mut limits = shipped_limits().unwrap();
        limits
            .iter_mut()
            .for_each(|limit| limit.state = LimitState::Adopted);
        limits
    }

    fn measured(analyte: Analyte, value: &str) -> Measured {
        let value = Concentration::from_ug_per_kg(parse_decimal(value).unwrap());
        Measured {
            analyte,
            finding: Finding::Quantified { value },
            uncertainty: None,
            method: Method::Strip,
            moisture_percent: None,
            recorded_bases: Vec::new(),
            cut_off: None,
        }
    }

    fn list(limits: &[Limit], measured: &Measured, good: &str, whose: &[&str]) -> PermittedUses {
        with_facts(limits, measured, good, whose, &ConditionFacts::new())
    }

    fn with_facts(
        limits: &[Limit],
        measured: &Measured,
        good: &str,
        whose: &[&str],
        facts: &ConditionFacts,
    ) -> PermittedUses {
        let jurisdictions: Vec<_> = whose.iter().map(|code| code.parse().unwrap()).collect();
        let load = Load {
            measured,
            commodity: good,
            jurisdictions: &jurisdictions,
            date: "2026-03-01".parse().unwrap(),
            facts,
            rule: &DecisionRule::Simple,
        };
        permitted_uses(limits, &Vocabulary::shipped().unwrap(), &load).unwrap()
    }

    fn outlook_of(list: &PermittedUses, id: &str) -> Outlook {
        list.uses
            .iter()
            .find(|row| row.intended_use == id)
            .unwrap()
            .outlook
    }

    #[test]
    fn maize_above_the_dairy_level_may_still_go_to_other_animals() {
        // FDA CPG Sec. 683.100: 20 dairy, 100 breeding cattle, breeding swine and mature poultry,
        // 200 finishing swine, 300 finishing beef cattle (ppb, seen).
        let limits = adopted();
        for (value, dairy, breeding, swine, beef) in [
            (
                "20",
                Outlook::Open,
                Outlook::Open,
                Outlook::Open,
                Outlook::Open,
            ),
            (
                "25",
                Outlook::Closed,
                Outlook::Open,
                Outlook::Open,
                Outlook::Open,
            ),
            (
                "150",
                Outlook::Closed,
                Outlook::Closed,
                Outlook::Open,
                Outlook::Open,
            ),
            (
                "250",
                Outlook::Closed,
                Outlook::Closed,
                Outlook::Closed,
                Outlook::Open,
            ),
            (
                "301",
                Outlook::Closed,
                Outlook::Closed,
                Outlook::Closed,
                Outlook::Closed,
            ),
        ] {
            let measured = measured(Analyte::AflatoxinTotal, value);
            let list = list(&limits, &measured, "maize-grain", &["US"]);
            assert_eq!(outlook_of(&list, "feed-dairy-cattle"), dairy, "{value}");
            assert_eq!(outlook_of(&list, "feed-breeding-beef"), breeding, "{value}");
            assert_eq!(outlook_of(&list, "feed-finishing-swine"), swine, "{value}");
            assert_eq!(outlook_of(&list, "feed-finishing-beef"), beef, "{value}");
            assert!(list.caution.contains("local authority decides"));
        }
    }

    #[test]
    fn the_best_stands_first_within_each_jurisdiction_as_chosen() {
        let measured = measured(Analyte::AflatoxinTotal, "150");
        let list = list(&adopted(), &measured, "maize-grain", &["US", "EU"]);
        let order: Vec<_> = list
            .uses
            .iter()
            .map(|row| (row.jurisdiction.to_string() != "US", row.outlook))
            .collect();
        assert!(order.is_sorted());
        assert!(order.iter().any(|(not_us, _)| *not_us));
        assert_eq!(list.without_limits, vec![]);
    }

    #[test]
    fn under_eu_law_a_strip_leaves_a_use_doubtful_and_never_closed() {
        let measured = measured(Analyte::AflatoxinTotal, "150");
        let list = list(&adopted(), &measured, "maize-grain", &["EU"]);
        assert_eq!(outlook_of(&list, "food-sorting"), Outlook::Doubtful);
        assert!(list.uses.iter().all(|row| row.outlook != Outlook::Closed));
    }

    #[test]
    fn a_recommendation_is_told_from_a_prohibition() {
        // FDA advisory levels for deoxynivalenol, 2010: 5 mg/kg in grain for swine, not over 20 %
        // of the diet.
        let measured = measured(Analyte::Deoxynivalenol, "6000");
        let condition = "us-feed-grain-swine-don".to_owned();
        let facts = ConditionFacts::from([(condition.clone(), true)]);
        let limits = adopted();
        let list = with_facts(&limits, &measured, "wheat-grain", &["US"], &facts);
        assert_eq!(
            outlook_of(&list, "feed-finishing-swine"),
            Outlook::AboveGuidance
        );
        let open = super::tests::list(&limits, &measured, "wheat-grain", &["US"]);
        assert_eq!(
            outlook_of(&open, "feed-finishing-swine"),
            Outlook::Unsettled
        );
        let unmet = ConditionFacts::from([(condition, false)]);
        let without = with_facts(&limits, &measured, "wheat-grain", &["US"], &unmet);
        assert!(
            without
                .uses
                .iter()
                .all(|row| row.intended_use != "feed-finishing-swine")
        );
    }

    #[test]
    fn a_proposed_limit_leaves_its_use_unsettled_and_a_retired_one_is_gone() {
        let measured = measured(Analyte::AflatoxinTotal, "150");
        let proposed = shipped_limits().unwrap();
        let open = list(&proposed, &measured, "maize-grain", &["US"]);
        assert!(
            open.uses
                .iter()
                .all(|row| row.outlook == Outlook::Unsettled)
        );
        let state = LimitState::Proposed;
        let reason = Undecided::LimitNotAdopted { state };
        let first = &open.uses[0].decisions[0].decision.decision;
        assert_eq!(*first, Verdict::Undecided { reason });
        let mut retired = proposed;
        retired
            .iter_mut()
            .for_each(|limit| limit.state = LimitState::Retired);
        let none = list(&retired, &measured, "maize-grain", &["US"]);
        assert_eq!(none.uses, vec![]);
        assert_eq!(
            none.without_limits.len(),
            1,
            "where none applies, that is said"
        );
    }

    #[test]
    fn a_use_with_its_parents_limits_points_to_it() {
        let measured = measured(Analyte::AflatoxinB1, "10");
        let list = list(&adopted(), &measured, "maize-grain", &["EU"]);
        let row = |id: &str| list.uses.iter().find(|row| row.intended_use == id).unwrap();
        assert_eq!(row("feed-dairy").same_as, Some("feed".to_owned()));
        assert_eq!(row("feed").same_as, None);
        assert_eq!(
            row("feed").outlook,
            Outlook::Unsettled,
            "12 % moisture, none recorded"
        );
    }
}
