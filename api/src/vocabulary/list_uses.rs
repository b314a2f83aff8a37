//! Lists the words for what goods are meant for.

use super::wire::{self, EntryFilter};
use crate::{
    error::{Answer, Problem},
    identity::Actor,
    request::Listed,
};
use actix_web::{get, web};
use domain::commodities::Entry;

/// List uses
///
/// The words for what goods are meant for, each with what stands right above it: every feed with
/// `within=feed`. It is the same for every laboratory, and is answered whole.
#[utoipa::path(tag = "vocabulary", params(EntryFilter),
    responses((status = 200, body = Listed<Entry>), (status = "4XX", body = Problem)))]
#[get("/v1/vocabulary/uses")]
pub(super) async fn list_uses(
    _actor: Actor,
    filter: web::Query<EntryFilter>,
) -> Answer<web::Json<Listed<Entry>>> {
    let items = wire::entries(&super::shipped()?.uses, &filter)?;
    Ok(web::Json(Listed { items }))
}
