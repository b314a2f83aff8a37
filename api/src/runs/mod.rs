//! Runs: one strip developed on one port, read at the bench or by a reader's export.
//!
//! Promises that whatever can be read as a run is recorded, also late, without a sample, with a
//! kit lot that nobody knows; what is amiss holds it. Only beginning a run on equipment past its
//! date is refused.

mod assign_run;
mod begin_run;
mod complete_run;
mod completed;
mod correct_run;
mod gathering;
mod join_named;
mod list_runs;
mod meet_again;
pub(crate) mod pages;
mod record;
mod record_all;
mod record_run;
mod record_together;
mod show_run;
pub(crate) mod store;
mod wire;
mod withdraw_run;

pub use gathering::Gathering;
pub(crate) use join_named::{join_named, look_again};
pub(crate) use meet_again::{Met, meet_again};
pub(crate) use record::NewRun;
pub(crate) use record_all::record_all;
pub(crate) use wire::{RunFilter, signal_checks};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(record_run::record_run)
        .service(begin_run::begin_run)
        .service(list_runs::list_runs)
        .service(show_run::show_run)
        .service(complete_run::complete_run)
        .service(assign_run::assign_run)
        .service(correct_run::correct_run)
        .service(withdraw_run::withdraw_run);
}
