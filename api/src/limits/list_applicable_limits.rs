//! Answers which limits apply to goods, a use, an analyte and a day, and why.
//!
//! Proposed limits are shown beside adopted ones, so that a manager sees what is missing; only
//! adopted ones decide. Retired ones are left out. Refuses goods and uses that the vocabulary does
//! not have.

use super::{Standing, known, may_see, wire::LimitView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    laboratories,
    request::Data,
    vocabulary,
};
use actix_web::{get, web};
use chrono::NaiveDate;
use domain::{
    analytes::Analyte,
    id::{CustomerId, SiteId},
    limits::{
        Applied, Authority, Jurisdiction, Limit, LimitState, OwnQuery, Query, QueryError,
        applicable_bearing, applicable_own,
    },
};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The lot and the use that are asked about.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Asked {
    /// What the goods are: a commodity of the vocabulary.
    #[param(example = "maize-grain")]
    pub commodity: String,
    /// What they are meant for: a use of the vocabulary.
    #[serde(rename = "use")]
    #[param(example = "food-sorting")]
    pub intended_use: String,
    /// What is measured.
    #[param(inline)]
    pub analyte: Analyte,
    /// Whose law; every one that is known, where none is named.
    #[param(value_type = Option<String>, example = "EU")]
    pub jurisdiction: Option<Jurisdiction>,
    /// The lot's governing date; today, where none is given.
    pub date: Option<NaiveDate>,
    /// The lot's parties (customers, with commas between): contracts among them apply too.
    pub parties: Option<String>,
    /// Where the lot arrived, for the intake's own levels.
    pub site: Option<Uuid>,
}

/// A fact that a limit depends on.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ConditionView {
    /// The fact, as the limit's scope names it.
    #[schema(example = "share-of-diet-at-most-50-percent")]
    pub fact: String,
    /// What has to be answered about the lot.
    pub question: String,
}

/// A limit that applies, and why.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ApplicableLimitView {
    /// The limit.
    #[serde(flatten)]
    pub standing: LimitView,
    /// Why it applies.
    pub why: String,
    /// Whether it decides now: it is adopted, and depends on nothing that is still to be answered.
    pub decides: bool,
    /// Whether it is on exactly the analyte asked for; else on a sum that contains it, or a part.
    pub on_this_analyte: bool,
    /// The fact that it depends on; absent where it applies outright.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub condition: Option<ConditionView>,
}

/// Which limits apply.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ApplicableLimits {
    /// The governing date that was used.
    pub date: NaiveDate,
    /// The jurisdictions whose law was looked at.
    #[schema(value_type = Vec<String>)]
    pub jurisdictions: Vec<Jurisdiction>,
    /// The limits that apply, each decided by itself: none wins over another.
    pub items: Vec<ApplicableLimitView>,
    /// What follows from it, in a sentence.
    pub summary: String,
}

/// List the limits that apply
///
/// To a commodity, a use, an analyte and a date, under one jurisdiction or all; with the lot's
/// parties and site, also contracts and the intake's own levels. Proposed limits are shown too,
/// but only adopted ones decide. A limit with a condition asks for the fact that it depends on.
#[utoipa::path(tag = "limits",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Asked),
    responses((status = 200, body = ApplicableLimits), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/applicable-limits")]
pub(super) async fn list_applicable_limits(
    actor: Actor,
    lab: Lab,
    asked: web::Query<Asked>,
    app: Data,
) -> Answer<web::Json<ApplicableLimits>> {
    let permit = actor.permit(Action::ReadLimits, &lab)?;
    let (standing, today) = app
        .db
        .read(&permit, async |tx| {
            Ok((known(tx).await?, laboratories::today(tx).await?))
        })
        .await?;
    let standing: BTreeMap<String, Standing> = standing
        .into_iter()
        .filter(|one| may_see(one.limit(), permit.only_customer()))
        .filter(|one| one.limit().state != LimitState::Retired)
        .map(|one| (one.limit().id.clone(), one))
        .collect();
    Ok(web::Json(answer(&asked, &standing, today)?))
}

fn answer(
    asked: &Asked,
    standing: &BTreeMap<String, Standing>,
    today: NaiveDate,
) -> Answer<ApplicableLimits> {
    let words = vocabulary::shipped()?;
    let limits: Vec<Limit> = standing.values().map(|one| one.limit().clone()).collect();
    let date = asked.date.unwrap_or(today);
    let jurisdictions = match &asked.jurisdiction {
        Some(one) => vec![one.clone()],
        None => jurisdictions_of(&limits),
    };
    let mut found: Vec<Applied<'_>> = applicable_own(
        &limits,
        words,
        &OwnQuery {
            parties: parties(asked.parties.as_deref())?,
            site: asked.site.map(SiteId),
            analyte: asked.analyte,
            commodity: asked.commodity.clone(),
            intended_use: asked.intended_use.clone(),
            date,
        },
    )
    .map_err(|error| unknown_word(&error))?;
    for jurisdiction in &jurisdictions {
        let query = Query {
            jurisdiction: jurisdiction.clone(),
            analyte: asked.analyte,
            commodity: asked.commodity.clone(),
            intended_use: asked.intended_use.clone(),
            date,
        };
        found.extend(
            applicable_bearing(&limits, words, &query).map_err(|error| unknown_word(&error))?,
        );
    }
    let items: Vec<ApplicableLimitView> = found
        .into_iter()
        .filter_map(|applied| {
            let standing = standing.get(&applied.limit.id)?;
            Some(view(asked.analyte, standing, applied))
        })
        .collect();
    Ok(ApplicableLimits {
        date,
        jurisdictions,
        summary: summary(&items),
        items,
    })
}

fn view(analyte: Analyte, standing: &Standing, applied: Applied<'_>) -> ApplicableLimitView {
    ApplicableLimitView {
        standing: LimitView::from(standing),
        decides: applied.limit.state == LimitState::Adopted && applied.condition.is_none(),
        on_this_analyte: applied.limit.analyte == analyte,
        why: applied.why,
        condition: applied.condition.map(|fact| ConditionView {
            question: format!(
                "Is this so of the lot and its use: {}? Until the lot's condition_facts answer \
                 it under this limit's code, the limit stays undecided.",
                fact.replace('-', " ")
            ),
            fact,
        }),
    }
}

fn summary(items: &[ApplicableLimitView]) -> String {
    let adopted = items.iter().filter(|item| item.decides).count();
    match (items.len(), adopted) {
        (0, _) => "No limit applies: a result is reported without a decision, and says so.".into(),
        (all, 0) => format!(
            "{all} apply and none decides yet: adopt a proposed one, or answer its condition."
        ),
        (all, adopted) => format!("{all} apply, {adopted} of them decide; each by itself."),
    }
}

fn jurisdictions_of(limits: &[Limit]) -> Vec<Jurisdiction> {
    let all: BTreeSet<&Jurisdiction> = limits
        .iter()
        .filter_map(|limit| match &limit.authority {
            Authority::Law { jurisdiction, .. } => Some(jurisdiction),
            Authority::Contract { .. } | Authority::Intake { .. } => None,
        })
        .collect();
    all.into_iter().cloned().collect()
}

fn parties(text: Option<&str>) -> Answer<Vec<CustomerId>> {
    text.unwrap_or_default()
        .split(',')
        .map(str::trim)
        .filter(|id| !id.is_empty())
        .map(|id| {
            Uuid::parse_str(id).map(CustomerId).map_err(|unreadable| {
                ApiError::Malformed(format!("\"{id}\" is no id of a customer: {unreadable}."))
            })
        })
        .collect()
}

fn unknown_word(error: &QueryError) -> ApiError {
    ApiError::Malformed(format!("The {error}. Look it up under /v1/vocabulary."))
}
