//! Limits: what the law, a contract or the intake allows, proposed, adopted and retired.
//!
//! The shipped proposals stand in the program; a row is made when one is adopted, with a copy of
//! its scope, or when a limit is proposed by hand. Only an adopted limit decides. Refuses an
//! adoption without a reading of the source. A change here makes results be computed again.

mod adopt_limit;
mod list_applicable_limits;
mod list_limits;
pub(crate) mod pages;
mod propose_limit;
mod retire_limit;
mod revise_limit;
mod show_limit;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
};
use domain::{
    id::CustomerId,
    limits::{Authority, Limit, LimitError, SeedError, shipped_limits},
};
use std::{collections::BTreeSet, sync::LazyLock};
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(list_limits::list_limits)
        .service(propose_limit::propose_limit)
        .service(show_limit::show_limit)
        .service(revise_limit::revise_limit)
        .service(adopt_limit::adopt_limit)
        .service(retire_limit::retire_limit)
        .service(list_applicable_limits::list_applicable_limits);
}

static SHIPPED: LazyLock<Result<Vec<Limit>, SeedError>> = LazyLock::new(shipped_limits);

/// The limits that come with the program, all proposed.
pub(crate) fn shipped() -> Answer<&'static [Limit]> {
    SHIPPED
        .as_deref()
        .map_err(|fault| ApiError::internal(fault.to_string()))
}

/// A limit as it stands in a laboratory: a row of its own, or shipped and not touched yet.
#[derive(Debug, Clone)]
pub(crate) enum Standing {
    /// Adopted, retired or proposed here.
    Kept(Box<Kept<Limit>>),
    /// As it comes with the program.
    Shipped(&'static Limit),
}

impl Standing {
    fn kept(kept: Kept<Limit>) -> Self {
        Self::Kept(Box::new(kept))
    }

    /// What it says.
    pub(crate) fn limit(&self) -> &Limit {
        match self {
            Self::Kept(kept) => &kept.content,
            Self::Shipped(limit) => limit,
        }
    }

    /// Its version; 0 where it is only shipped.
    pub(crate) fn version(&self) -> i32 {
        match self {
            Self::Kept(kept) => kept.version,
            Self::Shipped(_) => 0,
        }
    }
}

/// Every limit of the laboratory, the shipped proposals included, by code.
///
/// # Errors
/// [`ApiError::Unavailable`] or [`ApiError::Internal`].
pub(crate) async fn known(tx: &mut Tx) -> Answer<Vec<Standing>> {
    let rows = store::all(tx).await?;
    let touched: BTreeSet<String> = rows.iter().map(|row| row.content.id.clone()).collect();
    let mut all: Vec<Standing> = rows.into_iter().map(Standing::kept).collect();
    all.extend(
        shipped()?
            .iter()
            .filter(|limit| !touched.contains(&limit.id))
            .map(Standing::Shipped),
    );
    all.sort_by(|one, other| one.limit().id.cmp(&other.limit().id));
    Ok(all)
}

/// A limit by its id or its code.
///
/// # Errors
/// [`ApiError::NotFound`].
async fn find(tx: &mut Tx, name: &str) -> Answer<Standing> {
    if let Ok(id) = Uuid::parse_str(name) {
        return store::find(tx, id).await.map(Standing::kept);
    }
    if let Some(kept) = store::by_code(tx, name).await? {
        return Ok(Standing::kept(kept));
    }
    shipped()?
        .iter()
        .find(|limit| limit.id == name)
        .map(Standing::Shipped)
        .ok_or_else(|| ApiError::missing("limit", name))
}

/// A row of the laboratory's own, locked.
///
/// # Errors
/// [`ApiError::NotFound`], also for a limit that is only shipped.
async fn lock(tx: &mut Tx, name: &str) -> Answer<Kept<Limit>> {
    match find(tx, name).await? {
        Standing::Kept(kept) => store::lock(tx, kept.id).await,
        Standing::Shipped(_) => Err(ApiError::NotFound(format!(
            "The limit {name} comes with the program and was not adopted here: nothing of it can \
             be changed. Adopt it, or propose one of your own."
        ))),
    }
}

/// Whether somebody may see a limit: a customer sees the law and the contracts it is a party of.
fn may_see(limit: &Limit, only: Option<CustomerId>) -> bool {
    let Some(customer) = only else { return true };
    match &limit.authority {
        Authority::Law { .. } => true,
        Authority::Contract { parties, .. } => parties.contains(&customer),
        Authority::Intake { .. } => false,
    }
}

/// The refusal of an adoption or a retirement.
fn refusal(error: &LimitError) -> ApiError {
    match error.pointer() {
        Some(pointer) => ApiError::field(pointer, format!("Refused: {error}.")),
        None => ApiError::refused("limit-state", format!("Refused: {error}.")),
    }
}

/// Which limit an address names.
#[derive(Debug, Clone, serde::Deserialize, utoipa::IntoParams)]
#[into_params(parameter_in = Path)]
struct Named {
    /// Laboratory, by its name in addresses.
    #[expect(dead_code, reason = "read by its own extractor")]
    lab: String,
    /// Limit, by its id or its code.
    limit: String,
}
