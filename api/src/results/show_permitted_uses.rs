//! Where a released result's load may still lawfully go: every use of the chosen jurisdictions.
//!
//! Refuses a result that was not released, and one whose sample stands for no lot.

use super::{dossier, store};
use crate::{
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, InLab},
    kept::Kept,
    request::Data,
};
use actix_web::{HttpResponse, get, web};
use domain::{
    assessment::asked as asked_of,
    decisions::{DecisionRule, Measured, Method},
    id::ResultId,
    limits::Jurisdiction,
    permitted_uses::{Load, PermittedUses, permitted_uses},
    results::{ResultState, ResultVersion},
};

/// Whose law is asked.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Jurisdictions {
    /// Jurisdictions, with commas between; else those of the order or lot.
    #[param(example = "US,EU")]
    pub jurisdictions: Option<String>,
}

/// Show permitted uses
///
/// The local authority decides; this shows which limits the load meets, use by use.
#[utoipa::path(tag = "results",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = ResultId, Path, description = "Result"), Jurisdictions),
    responses((status = 200, body = PermittedUses), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/results/{id}/permitted-uses")]
pub(super) async fn show_permitted_uses(
    actor: Actor,
    result: InLab<ResultId>,
    asked: web::Query<Jurisdictions>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadResults, result.lab())?;
    let uses = app
        .db
        .read(&permit, async |tx| {
            let kept = store::find(tx, result.id().0).await?;
            of_result(tx, &kept, asked.jurisdictions.as_deref()).await
        })
        .await?;
    Ok(HttpResponse::Ok().json(uses))
}

/// What the limits of every use say of a result; `asked` are jurisdictions with commas between.
///
/// # Errors
/// [`ApiError::Refused`] for a result that was not released or has no value,
/// [`ApiError::Malformed`] for what is no jurisdiction.
pub(crate) async fn of_result(
    tx: &mut Tx,
    result: &Kept<ResultVersion>,
    asked: Option<&str>,
) -> Answer<PermittedUses> {
    let computed = &result.content.computed;
    let (Some(finding), ResultState::Released) = (computed.finding, result.content.state) else {
        return Err(ApiError::refused(
            "not-released",
            "Where a load may go is said of a released result. Have it reviewed first.",
        ));
    };
    let reference = tx.reference().await?;
    let dossiers = dossier::read(tx, &reference, &[computed.sample.0]).await?;
    let dossier = dossiers
        .samples
        .get(&computed.sample.0)
        .ok_or_else(|| ApiError::missing("sample", computed.sample))?;
    let procedure = computed
        .procedure
        .and_then(|used| reference.procedures.get(&used.id.0))
        .map(|shared| &shared.content);
    let asks = asked_of(&dossier.facts(), computed.analyte);
    let measured = Measured {
        analyte: computed.analyte,
        finding,
        uncertainty: None,
        method: Method::Strip,
        moisture_percent: dossier
            .sample
            .content
            .moisture
            .as_ref()
            .map(|moisture| moisture.percent),
        recorded_bases: Vec::new(),
        cut_off: procedure.and_then(|one| one.entry.cut_off_of(computed.analyte)),
    };
    let jurisdictions = chosen(asked, &asks.jurisdictions)?;
    let facts = dossier
        .lot
        .as_ref()
        .map(|(_, lot)| lot.content.condition_facts.clone())
        .unwrap_or_default();
    permitted_uses(
        &reference.limits,
        &reference.vocabulary,
        &Load {
            measured: &measured,
            commodity: &asks.commodity,
            jurisdictions: &jurisdictions,
            date: asks.date,
            facts: &facts,
            rule: &DecisionRule::Simple,
        },
    )
    .map_err(ApiError::internal)
}

fn chosen(asked: Option<&str>, of_order: &[String]) -> Answer<Vec<Jurisdiction>> {
    let words: Vec<&str> = match asked {
        Some(text) => text.split(',').map(str::trim).collect(),
        None => of_order.iter().map(String::as_str).collect(),
    };
    words
        .into_iter()
        .map(|word| {
            word.parse().map_err(|fault| {
                ApiError::Malformed(format!("{fault}. Give jurisdictions such as US,EU."))
            })
        })
        .collect()
}
