//! Certificates as their readers get them: opened from a bundle, set as PDF, found again in it.
//!
//! Promises to print what the bundle says and nothing else, and to show what was erased or is
//! withheld as such. Checks no signature: that is for a verifier.

mod attachment;
mod opened;
pub(crate) mod pages;
mod pdf;
#[cfg(test)]
mod tests;
mod typesetting;
mod view;

pub use attachment::{AttachmentError, attached_bundle};
pub use opened::{OpenError, Opened, WITHHELD, open};
pub use pdf::{PagesCompared, PdfError, RENDERER, compare_pages, render};
