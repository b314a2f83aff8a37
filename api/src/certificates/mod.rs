//! Certificates: issued, amended, withdrawn; and as their readers get them, opened from a bundle,
//! set as PDF, found again in it.
//!
//! Promises to print what the bundle says and nothing else, and to show what was erased or is
//! withheld as such. Refuses to issue what ISO/IEC 17025 would miss something in. Checks no
//! signature: that is for a verifier.

mod amend_certificate;
mod assemble;
mod attachment;
mod bundle;
mod change_state;
mod check_page;
mod evidence;
mod hand_out;
mod issue_certificate;
mod issuing;
mod list_certificates;
mod opened;
pub(crate) mod pages;
mod pdf;
mod refusal;
mod show_certificate;
mod store;
#[cfg(test)]
mod tests;
mod typesetting;
mod view;
mod wire;

pub use attachment::{AttachmentError, attached_bundle};
pub use opened::{OpenError, Opened, WITHHELD, open};
pub use pdf::{PagesCompared, PdfError, RENDERER, compare_pages, render};
pub(crate) use store::replayed::{replay, replay_counter, replay_documents};
pub(crate) use store::{erase, signed_text, take_out};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(issue_certificate::issue_certificate)
        .service(list_certificates::list_certificates)
        .service(show_certificate::show_certificate)
        .service(hand_out::show_bundle)
        .service(hand_out::show_pdf)
        .service(amend_certificate::amend_certificate)
        .service(change_state::withdraw_certificate)
        .service(change_state::investigate_certificate)
        .service(check_page::show_public_bundle)
        .service(check_page::show_public_pdf);
}

/// Pages of the slice: the list for those who are signed in, the check page for everybody.
pub(crate) fn page_routes(config: &mut actix_web::web::ServiceConfig) {
    config
        .configure(pages::routes)
        .configure(check_page::routes);
}
