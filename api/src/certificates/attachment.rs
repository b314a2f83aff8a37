//! The bundle inside a PDF.
//!
//! Promises the attached bytes unchanged, from a PDF of ours or one that another program has
//! saved again. Refuses PDFs without an attachment named `bundle.json`, or with two.

use hayro_syntax::Pdf;
use hayro_syntax::object::{Array, Dict, Stream, String as PdfString};

/// The name that the bundle is attached under.
pub(super) const ATTACHMENT: &str = "bundle.json";
/// How deep a tree of names may be.
const DEPTH: usize = 16;

/// Why no bundle was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AttachmentError {
    /// The bytes are no PDF that can be read.
    #[error("the file is no PDF that can be read")]
    NotPdf,
    /// Nothing is attached as `bundle.json`.
    #[error("no bundle.json is attached to the PDF")]
    None,
    /// More than one file is attached as `bundle.json`.
    #[error("more than one bundle.json is attached to the PDF")]
    Several,
    /// The attached stream cannot be unpacked.
    #[error("the attached bundle.json cannot be unpacked")]
    Damaged,
}

/// The bundle that a certificate's PDF has attached.
///
/// # Errors
/// [`AttachmentError`].
pub fn attached_bundle(pdf: &[u8]) -> Result<Vec<u8>, AttachmentError> {
    let pdf = parse(pdf)?;
    let xref = pdf.xref();
    let catalog: Dict<'_> = xref.get(xref.root_id()).ok_or(AttachmentError::NotPdf)?;
    let mut found = Vec::new();
    if let Some(tree) = catalog
        .get::<Dict<'_>>("Names")
        .and_then(|names| names.get::<Dict<'_>>("EmbeddedFiles"))
    {
        collect(&tree, DEPTH, &mut found);
    }
    let mut bundles = found.into_iter().filter(is_bundle);
    let bundle = bundles.next().ok_or(AttachmentError::None)?;
    if bundles.next().is_some() {
        return Err(AttachmentError::Several);
    }
    let files: Dict<'_> = bundle.get("EF").ok_or(AttachmentError::Damaged)?;
    let stream: Stream<'_> = files
        .get("F")
        .or_else(|| files.get("UF"))
        .ok_or(AttachmentError::Damaged)?;
    match stream.decoded() {
        Ok(bytes) => Ok(bytes.into_owned()),
        Err(_failure) => Err(AttachmentError::Damaged),
    }
}

/// The program that wrote a PDF, as its metadata says.
pub(super) fn creator(pdf: &[u8]) -> Result<Option<String>, AttachmentError> {
    let pdf = parse(pdf)?;
    let creator = pdf.metadata().creator.clone();
    Ok(creator.and_then(|bytes| String::from_utf8(bytes).ok()))
}

fn parse(pdf: &[u8]) -> Result<Pdf, AttachmentError> {
    match Pdf::new(pdf.to_vec()) {
        Ok(pdf) => Ok(pdf),
        Err(_unreadable) => Err(AttachmentError::NotPdf),
    }
}

fn collect<'a>(node: &Dict<'a>, depth: usize, found: &mut Vec<Dict<'a>>) {
    let Some(depth) = depth.checked_sub(1) else {
        return;
    };
    if let Some(names) = node.get::<Array<'a>>("Names") {
        let mut entries = names.flex_iter();
        while let Some(_name) = entries.next::<PdfString<'a>>() {
            if let Some(file) = entries.next::<Dict<'a>>() {
                found.push(file);
            }
        }
    }
    if let Some(kids) = node.get::<Array<'a>>("Kids") {
        for kid in kids.iter::<Dict<'a>>() {
            collect(&kid, depth, found);
        }
    }
}

fn is_bundle(file: &Dict<'_>) -> bool {
    file.get::<PdfString<'_>>("F")
        .is_some_and(|name| name.as_bytes() == ATTACHMENT.as_bytes())
}
