//! Lists runs, newest first.

use super::{
    store,
    wire::{RunFilter, RunView},
};
use crate::{
    error::{Answer, Problem},
    holds,
    identity::{Action, Actor, Lab},
    request::{Data, Listed, Page, listed},
};
use actix_web::{HttpRequest, HttpResponse, get, web};
use uuid::Uuid;

/// List runs
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Page, RunFilter),
    responses((status = 200, body = Listed<RunView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/runs")]
pub(super) async fn list_runs(
    actor: Actor,
    lab: Lab,
    page: web::Query<Page>,
    filter: web::Query<RunFilter>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadRuns, &lab)?;
    let views = app
        .db
        .read(&permit, async |tx| {
            let runs = store::list(tx, &page, &filter).await?;
            let ids: Vec<Uuid> = runs.iter().map(|run| run.id).collect();
            let holds = holds::store::of_subjects(tx, &ids).await?;
            Ok(runs
                .into_iter()
                .map(|run| RunView::with_holds(run, &holds))
                .collect())
        })
        .await?;
    Ok(listed(&request, &page, views, |view: &RunView| view.id))
}
