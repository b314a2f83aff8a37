//! Lists the versions of one subject: the audit trail.

use super::{
    act_records::{self, RecordView},
    store,
};
use crate::{
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::{Data, Listed},
};
use actix_web::{HttpRequest, HttpResponse, get, http::header, web};
use uuid::Uuid;

/// Which subject's trail, and which part of it.
#[derive(Debug, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Trail {
    /// The subject.
    pub subject: Uuid,
    /// Only versions below this one; taken from the `next` link.
    pub before: Option<i32>,
    /// How many at the most: 1 to 200, else 50.
    pub limit: Option<i64>,
}

/// List the records of a subject
///
/// Newest version first, each with the act that recorded it: who, when, what, why.
#[utoipa::path(tag = "records", params(("lab" = String, Path, description = "Laboratory, by its name in addresses"), Trail),
    responses((status = 200, body = Listed<RecordView>), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/records")]
pub(super) async fn list_records(
    actor: Actor,
    lab: Lab,
    trail: web::Query<Trail>,
    request: HttpRequest,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadRecords, &lab)?;
    let size = trail.limit.unwrap_or(50).clamp(1, 200);
    let mut items = app
        .db
        .read(&permit, async |tx| {
            let rows =
                store::versions(tx, trail.subject, trail.before, size.saturating_add(1)).await?;
            let mut views = Vec::with_capacity(rows.len());
            for row in rows {
                views.push(act_records::show(tx, row).await?);
            }
            Ok(views)
        })
        .await?;
    if items.is_empty() && trail.before.is_none() {
        return Err(ApiError::missing("record of subject", trail.subject));
    }
    let mut response = HttpResponse::Ok();
    let most = usize::try_from(size).unwrap_or(50);
    if items.len() > most {
        items.truncate(most);
        if let Some(last) = items.last() {
            response.insert_header((
                header::LINK,
                format!(
                    "<{}?subject={}&limit={size}&before={}>; rel=\"next\"",
                    request.path(),
                    trail.subject,
                    last.version
                ),
            ));
        }
    }
    Ok(response.json(Listed { items }))
}
