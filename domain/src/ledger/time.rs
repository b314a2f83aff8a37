//! How a moment is written in the ledger: `2026-03-01T08:15:30.123456Z`.
//!
//! Promises UTC with exactly six fraction digits, cut, never rounded; refuses every other form.

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, Timelike, Utc};

/// Why a text is no time of the ledger.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a time is written like 2026-03-01T08:15:30.123456Z")]
pub struct TimeError;

/// The canonical text of a moment, cut to microseconds.
///
/// ```
/// use chrono::{DateTime, Utc};
/// let moment: DateTime<Utc> = "2026-03-01T09:15:30.123456999+01:00".parse()?;
/// assert_eq!(domain::ledger::time::to_text(moment), "2026-03-01T08:15:30.123456Z");
/// # Ok::<(), chrono::ParseError>(())
/// ```
#[must_use]
pub fn to_text(moment: DateTime<Utc>) -> String {
    format!(
        "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:06}Z",
        moment.year(),
        moment.month(),
        moment.day(),
        moment.hour(),
        moment.minute(),
        moment.second(),
        // A leap second is kept by the type as a second's fraction of 1 and more.
        moment.nanosecond() % 1_000_000_000 / 1_000,
    )
}

/// Cuts a moment to the microsecond, so that what is computed with is what is written.
#[must_use]
pub fn cut(moment: DateTime<Utc>) -> DateTime<Utc> {
    moment
        .with_nanosecond(moment.nanosecond() % 1_000_000_000 / 1_000 * 1_000)
        .unwrap_or(moment)
}

/// Reads a time that is in the one form written here.
///
/// # Errors
/// [`TimeError`].
///
/// ```
/// use domain::ledger::time::{parse, to_text};
/// assert_eq!(to_text(parse("2026-03-01T08:15:30.100000Z")?), "2026-03-01T08:15:30.100000Z");
/// assert!(parse("2026-03-01T08:15:30.1Z").is_err());
/// assert!(parse("2026-03-01T08:15:30.100000+00:00").is_err());
/// # Ok::<(), domain::ledger::time::TimeError>(())
/// ```
pub fn parse(text: &str) -> Result<DateTime<Utc>, TimeError> {
    let moment = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S%.6fZ")
        .ok()
        .ok_or(TimeError)?
        .and_utc();
    // The parser is lenient about widths and signs; the text made again is not.
    if to_text(moment) == text {
        Ok(moment)
    } else {
        Err(TimeError)
    }
}

/// Reads a date, `2026-03-01`.
///
/// # Errors
/// [`TimeError`].
///
/// ```
/// use domain::ledger::time::parse_date;
/// assert_eq!(parse_date("2026-03-01")?.to_string(), "2026-03-01");
/// assert!(parse_date("2026-3-1").is_err());
/// # Ok::<(), domain::ledger::time::TimeError>(())
/// ```
pub fn parse_date(text: &str) -> Result<NaiveDate, TimeError> {
    let date = NaiveDate::parse_from_str(text, "%Y-%m-%d")
        .ok()
        .ok_or(TimeError)?;
    if date.to_string() == text {
        Ok(date)
    } else {
        Err(TimeError)
    }
}
