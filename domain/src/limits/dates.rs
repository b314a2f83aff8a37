//! Dates of law as they are known: a day, or only a month or a year.
//!
//! Promises the first and the last day that such a date can mean; refuses what is no date of the
//! calendar.

use chrono::{Datelike, Months, NaiveDate};
use serde::{Deserialize, Serialize};

/// A day, a month or a year.
///
/// ```
/// use domain::limits::PartialDate;
/// let month: PartialDate = "2001-11".parse()?;
/// assert_eq!(month.first_day().to_string(), "2001-11-01");
/// assert_eq!(month.last_day().to_string(), "2001-11-30");
/// assert!("2001-13".parse::<PartialDate>().is_err());
/// # Ok::<(), domain::limits::PartialDateError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PartialDate {
    first: NaiveDate,
    precision: Precision,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Precision {
    Year,
    Month,
    Day,
}

/// The text is no date such as 2024, 2024-07 or 2024-07-01.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no date such as 2024, 2024-07 or 2024-07-01")]
pub struct PartialDateError(pub String);

impl PartialDate {
    /// The first day that it can mean.
    #[must_use]
    pub const fn first_day(self) -> NaiveDate {
        self.first
    }

    /// The last day that it can mean.
    #[must_use]
    pub fn last_day(self) -> NaiveDate {
        let months = match self.precision {
            Precision::Year => 12,
            Precision::Month => 1,
            Precision::Day => return self.first,
        };
        self.first
            .checked_add_months(Months::new(months))
            .and_then(|next| next.pred_opt())
            .unwrap_or(NaiveDate::MAX)
    }
}

impl From<NaiveDate> for PartialDate {
    fn from(first: NaiveDate) -> Self {
        Self {
            first,
            precision: Precision::Day,
        }
    }
}

impl std::str::FromStr for PartialDate {
    type Err = PartialDateError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let digits =
            |part: &str, count| part.len() == count && part.bytes().all(|b| b.is_ascii_digit());
        let read = || {
            let mut parts = text.split('-');
            let year = parts.next().filter(|p| digits(p, 4))?.parse().ok()?;
            let mut two = || match parts.next() {
                None => Some(None),
                Some(part) if digits(part, 2) => part.parse().ok().map(Some),
                Some(_) => None,
            };
            let (month, day) = (two()?, two()?);
            if parts.next().is_some() {
                return None;
            }
            let precision = match (month, day) {
                (Some(_), Some(_)) => Precision::Day,
                (Some(_), None) => Precision::Month,
                (None, _) => Precision::Year,
            };
            let first = NaiveDate::from_ymd_opt(year, month.unwrap_or(1), day.unwrap_or(1))?;
            Some(Self { first, precision })
        };
        read().ok_or_else(|| PartialDateError(text.chars().take(40).collect()))
    }
}

impl std::fmt::Display for PartialDate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.precision {
            Precision::Year => write!(f, "{:04}", self.first.year()),
            Precision::Month => write!(f, "{:04}-{:02}", self.first.year(), self.first.month()),
            Precision::Day => self.first.fmt(f),
        }
    }
}

impl TryFrom<String> for PartialDate {
    type Error = PartialDateError;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<PartialDate> for String {
    fn from(date: PartialDate) -> Self {
        date.to_string()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for PartialDate {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .pattern(Some(r"^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$"))
            .examples(["2024-07-01", "2024-07", "2024"])
            .into()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for PartialDate {}

/// Whether a day lies between two dates; an empty side is open, the last day counts.
///
/// ```
/// use domain::limits::lies_within;
/// let from = Some("2023".parse()?);
/// assert!(lies_within("2023-01-01".parse()?, from, None));
/// assert!(!lies_within("2022-12-31".parse()?, from, None));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn lies_within(day: NaiveDate, from: Option<PartialDate>, to: Option<PartialDate>) -> bool {
    from.is_none_or(|from| from.first_day() <= day) && to.is_none_or(|to| day <= to.last_day())
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;

    #[test]
    fn each_precision_is_written_as_it_was_read() {
        for text in ["2024", "2024-02", "2024-02-29"] {
            let date: PartialDate = text.parse().unwrap();
            assert_eq!(date.to_string(), text);
            assert_eq!(
                date.last_day().to_string(),
                match text {
                    "2024" => "2024-12-31",
                    _ => "2024-02-29",
                }
            );
        }
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for text in [
            "",
            "24",
            "2024-2",
            "2024-02-30",
            "2023-02-29",
            "2024-02-29-01",
            "2024-",
        ] {
            assert!(text.parse::<PartialDate>().is_err(), "{text}");
        }
    }
}
