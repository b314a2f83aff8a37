//! `assize verify`: checks a certificate's bundle, or the PDF that carries it, with nothing but a
//! trust file.
//!
//! Promises one line a check and the exit status that the lines make; needs no database, no
//! settings and no network. Refuses (status 2) what is neither a bundle nor a PDF with one inside.

use crate::certificates::{
    AttachmentError, PagesCompared, RENDERER, attached_bundle, compare_pages,
};
use domain::ledger::{Report, report::Outcome, verify_bundle};

/// What the command is to do, read from its arguments.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verify {
    /// The bundle or PDF.
    pub file: String,
    /// The trust file.
    pub trust: Option<String>,
    /// Whether the report is printed as JSON.
    pub json: bool,
}

/// Why a command line is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ArgumentError {
    /// No file is named, or more than one.
    #[error("name one file: a certificate's bundle or its PDF")]
    File,
    /// An option that is not known, is given twice, or lacks its value.
    #[error("{0} cannot be used here: assize verify FILE [--trust T] [--json]")]
    Option(String),
}

impl Verify {
    /// Reads the command's arguments.
    ///
    /// # Errors
    /// [`ArgumentError`].
    pub fn from_arguments(arguments: &[&str]) -> Result<Self, ArgumentError> {
        let (mut file, mut trust, mut json) = (None, None, false);
        let mut left = arguments.iter();
        while let Some(argument) = left.next() {
            let refuse = || ArgumentError::Option((*argument).to_owned());
            match *argument {
                "--json" if !json => json = true,
                "--trust" if trust.is_none() => {
                    trust = Some((*left.next().ok_or_else(refuse)?).to_owned());
                }
                option if option.starts_with("--") => return Err(refuse()),
                name if file.is_none() => file = Some(name.to_owned()),
                _ => return Err(ArgumentError::File),
            }
        }
        Ok(Self {
            file: file.ok_or(ArgumentError::File)?,
            trust,
            json,
        })
    }

    /// Reads the files and checks. A file that cannot be read is one that cannot be checked.
    #[must_use]
    pub fn run(&self) -> Report {
        let read = |name: &str| {
            std::fs::read(name).map_err(|error| {
                let mut report = Report::new();
                report.add_unreadable(0, format!("{name}: {error}"));
                report
            })
        };
        let checked = read(&self.file).and_then(|file| {
            let trust = self.trust.as_deref().map(read).transpose()?;
            Ok(check(&file, trust.as_deref()))
        });
        checked.unwrap_or_else(|report| report)
    }
}

/// Checks a bundle, or a PDF and the bundle in it.
#[must_use]
pub fn check(file: &[u8], trust: Option<&[u8]>) -> Report {
    if !is_pdf(file) {
        return verify_bundle(file, trust);
    }
    let bundle = match attached_bundle(file) {
        Ok(bundle) => bundle,
        Err(error) => return without_bundle(error),
    };
    let mut report = verify_bundle(&bundle, trust);
    report.add(8, Outcome::Passed, "the PDF has one bundle attached");
    let (outcome, text) = pages(file);
    report.add(8, outcome, text);
    report
}

/// A PDF says so in its first bytes; some programs put others before them.
fn is_pdf(file: &[u8]) -> bool {
    let json = file
        .iter()
        .find(|byte| !byte.is_ascii_whitespace())
        .is_some_and(|byte| *byte == b'{');
    let start = file.get(..1024).unwrap_or(file);
    !json && start.windows(5).any(|bytes| bytes == b"%PDF-")
}

fn without_bundle(error: AttachmentError) -> Report {
    let mut report = Report::new();
    report.add_unreadable(8, error.to_string());
    report
}

fn pages(pdf: &[u8]) -> (Outcome, String) {
    match compare_pages(pdf) {
        Ok(PagesCompared::Same) => (
            Outcome::Passed,
            format!("the pages are those of the bundle, rendered again by {RENDERER}"),
        ),
        Ok(PagesCompared::Different) => (
            Outcome::Failed,
            "rendered again, the bundle gives another file: the PDF was changed after it was made"
                .to_owned(),
        ),
        Ok(PagesCompared::OtherRenderer(Some(other))) => (
            Outcome::NotChecked,
            format!(
                "the pages were not compared: they were made by \"{other}\", here is {RENDERER}"
            ),
        ),
        Ok(PagesCompared::OtherRenderer(None)) => (
            Outcome::NotChecked,
            "the pages were not compared: the PDF does not say what made it".to_owned(),
        ),
        Err(error) => (Outcome::Failed, error.to_string()),
    }
}
