//! Shows one run, with the holds that stand on it, and what the signals of its strip come to.

use super::{store, wire::RunView};
use crate::{
    error::{Answer, Problem},
    holds,
    identity::{Action, Actor, InLab},
    request::{Data, shown},
};
use actix_web::{HttpRequest, HttpResponse, get};
use domain::id::RunId;

/// Show run
#[utoipa::path(tag = "runs",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("id" = RunId, Path, description = "Run")),
    responses((status = 200, body = RunView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/runs/{id}")]
pub(super) async fn show_run(
    actor: Actor,
    run: InLab<RunId>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadRuns, run.lab())?;
    let view = app
        .db
        .read(&permit, async |tx| {
            let kept = store::find(tx, run.id().0).await?;
            let holds = holds::store::of_subjects(tx, &[kept.id]).await?;
            let mut readings = kept.content.entry.readings.iter();
            let has_signals = readings.any(|reading| reading.signals.is_some());
            let view = RunView::with_holds(kept, &holds);
            if !has_signals {
                return Ok(view);
            }
            let reference = tx.reference().await?;
            Ok(view.with_signals(&reference))
        })
        .await?;
    Ok(shown(&request, view.version, &view))
}
