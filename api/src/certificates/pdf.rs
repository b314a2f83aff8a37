//! The certificate as PDF, set from its bundle alone.
//!
//! Promises the same bytes for the same bundle and the same [`RENDERER`]. Written as PDF/A-3a and
//! PDF/UA-1 with the bundle attached; where a name needs letters that no built-in font has, as
//! plain PDF 1.7 instead, since a certificate that cannot be printed helps nobody.

use super::attachment::{ATTACHMENT, AttachmentError, attached_bundle, creator};
use super::opened::{OpenError, open};
use super::typesetting::Desk;
use super::view;
use chrono::{DateTime, Datelike, Timelike};
use typst::diag::SourceDiagnostic;
use typst::foundations::{Datetime, Smart};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

/// Program and version that set the pages; a change of template, fonts or typesetter changes it.
pub const RENDERER: &str = concat!("assize ", env!("CARGO_PKG_VERSION"), ", certificate form 1");

const TEMPLATE: &str = include_str!("../../templates/certificates/certificate.typ");
/// Rounds of setting after which what the typesetter remembers is let go.
const REMEMBERED: usize = 10;

/// Why no PDF can be made.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The bundle cannot be opened.
    #[error("the bundle cannot be opened")]
    Open(#[from] OpenError),
    /// Its address is too long for a QR code.
    #[error("the check address does not fit a QR code")]
    Qr(#[from] qrcode::types::QrError),
    /// What is shown cannot be written for the template.
    #[error("the certificate's data cannot be written for the template")]
    Data(#[from] serde_json::Error),
    /// The typesetter refused.
    #[error("the pages cannot be set: {0}")]
    Typesetting(String),
}

/// Whether the pages of a PDF are those of the bundle in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PagesCompared {
    /// Rendered again: the same bytes.
    Same,
    /// Rendered again: other bytes. The file was changed after it was made.
    Different,
    /// Made by a renderer that is not at hand: not compared.
    OtherRenderer(Option<String>),
}

/// Sets a bundle as PDF. Takes some ten milliseconds of processor time: not for an async thread.
///
/// # Errors
/// [`PdfError`].
pub fn render(bundle: &[u8]) -> Result<Vec<u8>, PdfError> {
    let opened = open(bundle)?;
    let data = serde_json::to_vec(&view::of(&opened, RENDERER)?)?;
    let files = vec![("data.json", data), (ATTACHMENT, bundle.to_vec())];
    let desk = Desk::new(TEMPLATE, files)
        .ok_or_else(|| PdfError::Typesetting("a file's name is not a path".to_owned()))?;
    let pages = typst::compile::<PagedDocument>(&desk).output;
    let pdf = pages.map_err(|faults| refused(&faults)).and_then(|pages| {
        let certificate = &opened.certificate;
        let options =
            |standards: &[PdfStandard]| options(&certificate.number, certificate.iat, standards);
        match typst_pdf::pdf(&pages, &options(&[PdfStandard::A_3a, PdfStandard::Ua_1])?) {
            Ok(pdf) => Ok(pdf),
            Err(_letters_without_a_font) => {
                let plain = options(&[PdfStandard::V_1_7])?;
                typst_pdf::pdf(&pages, &plain).map_err(|faults| refused(&faults))
            }
        }
    });
    comemo::evict(REMEMBERED);
    pdf
}

fn options(number: &str, iat: i64, standards: &[PdfStandard]) -> Result<PdfOptions, PdfError> {
    let standards = PdfStandards::new(standards)
        .map_err(|fault| PdfError::Typesetting(fault.message().to_string()))?;
    let timestamp = DateTime::from_timestamp(iat, 0).and_then(|issued| {
        let small = |number: u32| u8::try_from(number).ok();
        Datetime::from_ymd_hms(
            issued.year(),
            small(issued.month())?,
            small(issued.day())?,
            small(issued.hour())?,
            small(issued.minute())?,
            small(issued.second())?,
        )
    });
    Ok(PdfOptions {
        ident: Smart::Custom(number.to_owned()),
        creator: Smart::Custom(Some(RENDERER.to_owned())),
        timestamp: timestamp.map(Timestamp::new_utc),
        standards,
        ..PdfOptions::default()
    })
}

fn refused<'a>(faults: impl IntoIterator<Item = &'a SourceDiagnostic>) -> PdfError {
    let messages: Vec<String> = faults
        .into_iter()
        .map(|fault| fault.message.to_string())
        .collect();
    PdfError::Typesetting(messages.join("; "))
}

/// Renders the bundle attached to a PDF again and compares.
///
/// # Errors
/// [`AttachmentError`] where no bundle is attached.
pub fn compare_pages(pdf: &[u8]) -> Result<PagesCompared, AttachmentError> {
    let bundle = attached_bundle(pdf)?;
    let made_by = creator(pdf)?;
    if made_by.as_deref() != Some(RENDERER) {
        return Ok(PagesCompared::OtherRenderer(made_by));
    }
    Ok(match render(&bundle) {
        Ok(again) if again == pdf => PagesCompared::Same,
        Ok(_) | Err(_) => PagesCompared::Different,
    })
}
