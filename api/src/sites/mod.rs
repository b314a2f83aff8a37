//! Sites: places of the laboratory, each with the bench that fills what an entry leaves out.
//!
//! Promises that what stands on a bench is there; refuses a bench of unknown things.

mod list_sites;
mod register_site;
mod revise_site;
mod show_site;
pub(crate) mod store;
mod wire;

use crate::named::{Named, Thing};
use domain::sites::Site;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_site::register_site)
        .service(list_sites::list_sites)
        .service(show_site::show_site)
        .service(revise_site::revise_site);
}

/// What a site names, its pointers below `at`.
fn names(site: &Site, at: &str) -> Named {
    let bench = &site.bench;
    let mut named = Named::default();
    let mut equipment = |member: &str, id| {
        named.add(Thing::Equipment, format!("{at}/bench/{member}"), id);
    };
    equipment("grinder", bench.grinder);
    equipment("balance", bench.balance);
    equipment("cylinder", bench.cylinder);
    equipment("timer", bench.timer);
    equipment("shaker", bench.shaker);
    equipment("centrifuge", bench.centrifuge);
    for (position, pipette) in bench.pipettes.iter().enumerate() {
        equipment(&format!("pipettes/{position}"), Some(*pipette));
    }
    named.add(Thing::Reader, format!("{at}/bench/reader"), bench.reader);
    let procedure = format!("{at}/bench/procedure");
    named.add(Thing::Procedure, procedure, bench.procedure);
    named
}
