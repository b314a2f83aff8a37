//! Erasure: personal data and free text go where the law asks for it, and no hash changes.
//!
//! Promises that in one transaction the disclosures are deleted, every row, kept answer, kept PDF
//! and upload that shows them is made again without them, and a record says which digests went.
//! The digests also go to a file outside the database, so that an older backup is not served
//! before they are erased in it again. Refuses a signer's name within its retention time.

mod clearing;
mod erase_disclosures;
mod erased_file;
mod erasing;
mod list_erasures;
mod locating;
mod replaying;
mod retaining;
mod selecting;
mod show_erasure;
pub(crate) mod store;
mod wire;

pub use replaying::replay;
pub(crate) use replaying::replay_where_suspended;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(erase_disclosures::erase_disclosures)
        .service(list_erasures::list_erasures)
        .service(show_erasure::show_erasure);
}
