//! Shows that a log only grew from one size to another.
//!
//! Refuses sizes that no checkpoint has published, and growth from nothing, which proves nothing.

use super::{
    store, stored_hashes,
    wire::{ConsistencyView, hex},
};
use crate::{
    db::Tx,
    error::{Answer, ApiError, Problem},
    identity::{Action, Actor, Lab},
    request::Data,
};
use actix_web::{HttpResponse, get, web};
use domain::ledger::tree;
use serde::Deserialize;

/// Between which sizes.
#[derive(Debug, Clone, Copy, Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct Sizes {
    /// The smaller size, at least 1.
    #[param(minimum = 1)]
    pub from: u64,
    /// The larger size, at most that of the newest checkpoint.
    #[param(minimum = 1)]
    pub to: u64,
}

/// Show that the log only grew
///
/// From any size to any later one, such as those of two checkpoints that you kept.
#[utoipa::path(tag = "log",
    params(("lab" = String, Path, description = "Laboratory, by its name in addresses"),
        ("number" = i32, Path, description = "Number of the log"), Sizes),
    responses((status = 200, body = ConsistencyView), (status = "4XX", body = Problem)))]
#[get("/v1/laboratories/{lab}/logs/{number}/consistency")]
pub(super) async fn show_consistency(
    actor: Actor,
    lab: Lab,
    path: web::Path<(String, i32)>,
    sizes: web::Query<Sizes>,
    app: Data,
) -> Answer<HttpResponse> {
    let permit = actor.permit(Action::ReadLog, &lab)?;
    let sizes = sizes.into_inner();
    let view = app
        .db
        .read(&permit, async |tx| prove(tx, path.1, sizes).await)
        .await?;
    Ok(HttpResponse::Ok().json(view))
}

async fn prove(tx: &mut Tx, log: i32, sizes: Sizes) -> Answer<ConsistencyView> {
    let Sizes { from, to } = sizes;
    let published = store::published_size(tx, log)
        .await?
        .ok_or_else(|| ApiError::missing("log", log))?;
    if to > published {
        return Err(ApiError::NotFound(format!(
            "The newest checkpoint covers {published} entries, not {to}: nothing beyond it is \
             shown. Ask for sizes up to {published}."
        )));
    }
    let mut parts = tree::consistency_parts(from, to).map_err(|_out_of_range| {
        ApiError::Malformed(format!(
            "From {from} to {to} nothing can be proved: give sizes with 1 <= from <= to."
        ))
    })?;
    // Both roots by the same query: a reader who kept only sizes can tell what they had.
    parts.push(tree::edge_nodes(from));
    parts.push(tree::edge_nodes(to));
    let laboratory = tx.laboratory_id();
    let mut hashes =
        stored_hashes::resolved(tx.connection(), (laboratory, log), to, &parts).await?;
    let (Some(to_root), Some(from_root)) = (hashes.pop(), hashes.pop()) else {
        return Err(ApiError::internal("a proof without its roots"));
    };
    tree::verify_consistency(from, to, &from_root, &to_root, &hashes).map_err(|fault| {
        ApiError::internal(format!(
            "the stored hashes of log {log} do not lead from {from} to {to} entries: {fault}"
        ))
    })?;
    Ok(ConsistencyView {
        log,
        from,
        from_root: from_root.to_string(),
        to,
        to_root: to_root.to_string(),
        hashes: hex(&hashes),
    })
}
