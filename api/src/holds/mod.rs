//! Holds: what stands between a result and its release.
//!
//! Promises that a hold is never deleted: a correction, another run, a later fact or a reviewer's
//! reasoned acceptance lifts it, and it stays readable.

mod accept_hold;
mod list_holds;
mod place_hold;
mod show_hold;
pub(crate) mod store;
mod wire;

pub(crate) use accept_hold::{AcceptHold, accept, involved};
pub(crate) use wire::HoldFilter;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(place_hold::place_hold)
        .service(list_holds::list_holds)
        .service(show_hold::show_hold)
        .service(accept_hold::accept_hold);
}
