//! Shows one version of one subject with its exact bytes and its signed act.

use super::{
    act_records::{self, RecordView},
    store,
};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::Data,
};
use actix_web::{HttpResponse, get, web};
use uuid::Uuid;

/// Show one record
#[utoipa::path(tag = "records",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("subject" = Uuid, Path, description = "Subject"), ("version" = i32, Path, description = "Version, from 1")),
    responses((status = 200, body = RecordView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/records/{subject}/{version}")]
pub(super) async fn show_record(
    actor: Actor,
    lab: Lab,
    path: web::Path<(String, Uuid, i32)>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadRecords, &lab)?;
    let (_, subject, version) = path.into_inner();
    let view = app
        .db
        .read(&permit, async |tx| {
            let row = store::version(tx, subject, version).await?.ok_or_else(|| {
                ApiError::missing("record", format!("{subject} version {version}"))
            })?;
            act_records::show(tx, row).await
        })
        .await?;
    Ok(HttpResponse::Ok().json(view))
}
