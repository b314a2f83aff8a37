//! What a check of a bundle says: a line for each check, and an exit status.
//!
//! Promises that the status follows from the lines and from what could not be looked at; refuses to
//! print control characters that a bundle might hold.

use serde::Serialize;

/// How one check came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It holds.
    Passed,
    /// It does not hold.
    Failed,
    /// It could not be looked at; the line says why.
    NotChecked,
    /// Nothing that passes or fails, but worth knowing.
    Noted,
}

/// One line of a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Line {
    /// The number of the check, 1 to 9; 0 for the files as such.
    pub check: u8,
    /// How it came out.
    pub outcome: Outcome,
    /// What was looked at and found, in words.
    pub text: String,
}

/// The outcome of the whole; its exit status is that of `assize verify`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// 0: every check passed, and the act is logged.
    Verified,
    /// 1: a check failed.
    Failed,
    /// 2: it cannot be checked.
    Unreadable,
    /// 3: consistent, but no trust file was given, so no signature was checked.
    Untrusted,
    /// 4: signed by a key in use, but without proof of logging.
    Unlogged,
}

impl Status {
    /// The process's exit status.
    #[must_use]
    pub const fn exit(self) -> u8 {
        match self {
            Self::Verified => 0,
            Self::Failed => 1,
            Self::Unreadable => 2,
            Self::Untrusted => 3,
            Self::Unlogged => 4,
        }
    }
}

/// What a check of a bundle found.
///
/// ```
/// use domain::ledger::report::{Outcome, Report, Status};
/// let mut report = Report::new();
/// report.add(8, Outcome::Passed, "the PDF has the bundle attached");
/// assert_eq!(report.status(), Status::Verified);
/// report.add(8, Outcome::Failed, "page 1 differs\u{1b}[2K");
/// assert_eq!(report.status().exit(), 1);
/// assert!(report.to_string().contains("page 1 differs\u{fffd}[2K"));
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    lines: Vec<Line>,
    unreadable: bool,
    trusted: bool,
    logged: bool,
    whole_log: bool,
}

impl Default for Report {
    fn default() -> Self {
        Self::new()
    }
}

impl Report {
    /// A report without lines.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            lines: Vec::new(),
            unreadable: false,
            trusted: true,
            logged: true,
            whole_log: false,
        }
    }

    /// A report on a whole log, without lines.
    ///
    /// ```
    /// use domain::ledger::Report;
    /// assert!(Report::of_a_log().conclusion().starts_with("The log holds"));
    /// ```
    #[must_use]
    pub fn of_a_log() -> Self {
        let mut report = Self::new();
        report.whole_log = true;
        report
    }

    /// Adds a line, also one about something that only the caller can look at, such as a PDF.
    pub fn add(&mut self, check: u8, outcome: Outcome, text: impl Into<String>) {
        let shown = |c: char| {
            if c.is_control() {
                char::REPLACEMENT_CHARACTER
            } else {
                c
            }
        };
        let text = text.into().chars().map(shown).collect();
        self.lines.push(Line {
            check,
            outcome,
            text,
        });
    }

    /// Says that something cannot be checked at all; the status is then 2, whatever the lines say.
    pub fn add_unreadable(&mut self, check: u8, text: impl Into<String>) {
        self.unreadable = true;
        self.add(check, Outcome::NotChecked, text);
    }

    /// Says that no trust file was given, so that nobody's keys stand behind what holds.
    pub fn rely_on_nothing(&mut self) {
        self.without_trust();
    }

    /// Says that no trust file was given.
    pub(crate) fn without_trust(&mut self) {
        self.trusted = false;
    }

    /// Says that there is no proof of logging.
    pub(crate) fn without_proof(&mut self) {
        self.logged = false;
    }

    /// Puts the lines in the order of the checks.
    pub(crate) fn sort(&mut self) {
        self.lines.sort_by_key(|line| line.check);
    }

    /// The lines, in the order of the checks.
    #[must_use]
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// The outcome of the whole.
    #[must_use]
    pub fn status(&self) -> Status {
        if self.unreadable {
            Status::Unreadable
        } else if self
            .lines
            .iter()
            .any(|line| line.outcome == Outcome::Failed)
        {
            Status::Failed
        } else if !self.trusted {
            Status::Untrusted
        } else if !self.logged {
            Status::Unlogged
        } else {
            Status::Verified
        }
    }

    /// What the status means, in one sentence.
    #[must_use]
    pub fn conclusion(&self) -> &'static str {
        match self.status() {
            Status::Verified if self.whole_log => {
                "The log holds: nothing was taken out, put in or changed up to its newest \
                 checkpoint."
            }
            Status::Failed if self.whole_log => "A check failed. Do not rely on this log.",
            Status::Untrusted if self.whole_log => {
                "The log agrees with itself, but no trust file was given: somebody else may have \
                 made it."
            }
            Status::Verified => {
                "As recorded in the log. Whether it was replaced or withdrawn since must be asked \
                 at the check page."
            }
            Status::Failed => "A check failed. Do not rely on this certificate.",
            Status::Unreadable => "This cannot be checked.",
            Status::Untrusted => {
                "Consistent, but no trust file was given, so no signature was checked."
            }
            Status::Unlogged => "Signed by a key in use, but without proof that it was logged.",
        }
    }
}

impl Serialize for Report {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeStruct as _;
        let mut report = serializer.serialize_struct("Report", 4)?;
        report.serialize_field("conclusion", self.conclusion())?;
        report.serialize_field("exit", &self.status().exit())?;
        report.serialize_field("lines", &self.lines)?;
        report.serialize_field("status", &self.status())?;
        report.end()
    }
}

impl std::fmt::Display for Report {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for line in &self.lines {
            let word = match line.outcome {
                Outcome::Passed => "passed",
                Outcome::Failed => "FAILED",
                Outcome::NotChecked => "not checked",
                Outcome::Noted => "note",
            };
            writeln!(f, "{}. {word}: {}", line.check, line.text)?;
        }
        f.write_str(self.conclusion())
    }
}
