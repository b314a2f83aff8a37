//! Lists the words for what goods are.

use super::wire::{self, EntryFilter};
use crate::{
    error::{Answer, Problem},
    identity::Actor,
    request::Listed,
};
use actix_web::{get, web};
use domain::commodities::Entry;

/// List commodities
///
/// The words for what goods are, each with what stands right above it: all cereals with
/// `within=cereal`. It is the same for every laboratory, and is answered whole.
#[utoipa::path(tag = "vocabulary", params(EntryFilter),
    responses((status = 200, body = Listed<Entry>), (status = "4XX", body = Problem)))]
#[get("/v1/vocabulary/commodities")]
pub(super) async fn list_commodities(
    _actor: Actor,
    filter: web::Query<EntryFilter>,
) -> Answer<web::Json<Listed<Entry>>> {
    let items = wire::entries(&super::shipped()?.commodities, &filter)?;
    Ok(web::Json(Listed { items }))
}
