//! What a check found, as it is printed: where, and in which columns, never what stands there,
//! which may be personal.

use serde_json::Value;
use std::fmt;

/// How many places of a JSON column are named.
const MOST_PLACES: usize = 8;

/// A row that does not say what the records say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drift {
    /// The table.
    pub table: String,
    /// Whose row it is: its key, without the laboratory.
    pub subject: String,
    /// What is wrong with it.
    pub fault: Fault,
}

/// What is wrong with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fault {
    /// The records tell a row that is not there.
    Missing,
    /// There is a row that no record tells.
    NotRecorded,
    /// Columns say something else; those of JSON with the places in them.
    Differs(Vec<String>),
    /// The records themselves do not hold together.
    Records(&'static str),
}

impl Drift {
    /// A row whose columns differ.
    pub(super) fn differs(table: &str, subject: String, columns: Vec<String>) -> Self {
        Self {
            table: table.to_owned(),
            subject,
            fault: Fault::Differs(columns),
        }
    }

    /// Records of a subject that do not hold together.
    pub(super) fn records(subject: String, why: &'static str) -> Self {
        Self {
            table: "ledger_version".to_owned(),
            subject,
            fault: Fault::Records(why),
        }
    }
}

impl fmt::Display for Drift {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}: ", self.table, self.subject)?;
        match &self.fault {
            Fault::Missing => write!(f, "the row is missing that the records tell"),
            Fault::NotRecorded => write!(f, "no record tells the row"),
            Fault::Differs(columns) => write!(f, "differs in {}", columns.join(", ")),
            Fault::Records(why) => write!(f, "{why}"),
        }
    }
}

/// What was found in a laboratory.
#[derive(Debug, Clone, Default)]
pub struct Checked {
    /// Its name in addresses.
    pub laboratory: String,
    /// How many acts were replayed.
    pub acts: u64,
    /// How many records they hold.
    pub records: u64,
    /// How many tables were compared.
    pub tables: usize,
    /// How many rows the records tell.
    pub rows: u64,
    /// Rows that do not say what the records say, at most 1000 a table.
    pub drifts: Vec<Drift>,
    /// How many more there are.
    pub more: u64,
    /// What could not be built from the records, and was taken over.
    pub notes: Vec<String>,
}

impl Checked {
    /// Whether the read model says what the records say.
    #[must_use]
    pub const fn is_equal(&self) -> bool {
        self.drifts.is_empty()
    }
}

impl fmt::Display for Checked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = &self.laboratory;
        for note in &self.notes {
            writeln!(f, "{name}: {note}")?;
        }
        for drift in &self.drifts {
            writeln!(f, "{name}: {drift}")?;
        }
        if self.more > 0 {
            writeln!(f, "{name}: and {} more rows", self.more)?;
        }
        let (acts, records) = (self.acts, self.records);
        if self.is_equal() {
            write!(
                f,
                "{name}: equal; {} rows of {} tables say what {records} records of {acts} acts say",
                self.rows, self.tables
            )
        } else {
            let drifts = u64::try_from(self.drifts.len()).unwrap_or(u64::MAX);
            write!(
                f,
                "{name}: {} rows differ from what {records} records of {acts} acts say",
                drifts.saturating_add(self.more)
            )
        }
    }
}

/// Where two JSON values differ, as pointers below `at`.
pub(super) fn places(live: &Value, told: &Value, at: &str, found: &mut Vec<String>) {
    if live == told || found.len() >= MOST_PLACES {
        return;
    }
    match (live, told) {
        (Value::Object(live), Value::Object(told)) => {
            let added = told.keys().filter(|name| !live.contains_key(*name));
            for name in live.keys().chain(added) {
                let (one, other) = (live.get(name), told.get(name));
                let at = format!("{at}/{name}");
                places(
                    one.unwrap_or(&Value::Null),
                    other.unwrap_or(&Value::Null),
                    &at,
                    found,
                );
            }
        }
        (Value::Array(live), Value::Array(told)) if live.len() == told.len() => {
            for (place, (one, other)) in live.iter().zip(told).enumerate() {
                places(one, other, &format!("{at}/{place}"), found);
            }
        }
        _ => found.push(at.to_owned()),
    }
}
