//! Lists limits by code: the laboratory's own and the shipped proposals.

use super::{Standing, known, may_see, wire::LimitView};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed_by},
    vocabulary,
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use domain::{
    analytes::Analyte,
    limits::{Authority, Jurisdiction, Limit, LimitState},
};

/// Who set the limits that are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum AuthorityWord {
    /// A law.
    Law,
    /// A contract.
    Contract,
    /// The intake.
    Intake,
}

/// Which limits are asked for.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct LimitFilter {
    /// Only what comes after this code; taken from the `next` link.
    pub after: Option<String>,
    /// How many at the most: 1 to 200, else 50.
    #[param(minimum = 1, maximum = 200, default = 50)]
    pub limit: Option<i64>,
    /// Only of this jurisdiction.
    #[param(value_type = Option<String>, example = "EU")]
    pub jurisdiction: Option<Jurisdiction>,
    /// Only on this analyte.
    #[param(inline)]
    pub analyte: Option<Analyte>,
    /// Only in this state.
    #[param(inline)]
    pub state: Option<LimitState>,
    /// Only those set by a law, a contract or the intake.
    #[param(inline)]
    pub authority: Option<AuthorityWord>,
    /// Only those that cover this commodity of the vocabulary.
    pub commodity: Option<String>,
    /// Only those that cover this use of the vocabulary.
    #[serde(rename = "use")]
    pub intended_use: Option<String>,
}

impl LimitFilter {
    fn fits(&self, limit: &Limit) -> bool {
        let (jurisdiction, word) = match &limit.authority {
            Authority::Law { jurisdiction, .. } => (Some(jurisdiction), AuthorityWord::Law),
            Authority::Contract { .. } => (None, AuthorityWord::Contract),
            Authority::Intake { .. } => (None, AuthorityWord::Intake),
        };
        (self.jurisdiction.is_none() || self.jurisdiction.as_ref() == jurisdiction)
            && self.analyte.is_none_or(|asked| asked == limit.analyte)
            && self.state.is_none_or(|asked| asked == limit.state)
            && self.authority.is_none_or(|asked| asked == word)
            && self.after.as_ref().is_none_or(|after| limit.id > *after)
    }
}

/// List limits
///
/// The laboratory's own limits and those that come with the program, by code. Only an adopted
/// limit decides; a proposed one marked `unverified` was never read in its source by anybody here.
#[utoipa::path(tag = "limits",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), LimitFilter),
    responses((status = 200, body = Listed<LimitView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/limits")]
pub(super) async fn list_limits(
    actor: Actor,
    lab: Lab,
    filter: web::Query<LimitFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLimits, &lab)?;
    let words = vocabulary::shipped()?;
    let (commodity, intended_use) = (filter.commodity.as_deref(), filter.intended_use.as_deref());
    for (graph, word) in [(&words.commodities, commodity), (&words.uses, intended_use)] {
        if let Some(word) = word.filter(|word| graph.entry(word).is_none()) {
            return Err(ApiError::Malformed(format!(
                "\"{word}\" is not in the vocabulary. Look it up under /v1/vocabulary."
            )));
        }
    }
    let found = app.db.read(&permit, known).await?;
    let page = Page {
        after: None,
        limit: filter.limit,
    };
    let views: Vec<LimitView> = found
        .iter()
        .filter(|standing| filter.fits(standing.limit()))
        .filter(|standing| may_see(standing.limit(), permit.only_customer()))
        .filter(|standing| standing.limit().covers(words, commodity, intended_use))
        .take(usize::try_from(page.rows()).unwrap_or(51))
        .map(|standing: &Standing| LimitView::from(standing))
        .collect();
    Ok(listed_by(&request, &page, views, |view| view.code.clone()))
}
