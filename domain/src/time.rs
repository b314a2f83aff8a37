//! Moments, as records write them: UTC, always six fraction digits, cut and never rounded.

use chrono::{DateTime, Datelike as _, SubsecRound, Timelike as _, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A moment in UTC, to the microsecond.
///
/// Read from RFC 3339 with seconds and an offset; written `2026-03-01T08:15:30.123456Z`.
///
/// ```
/// use domain::time::Moment;
/// let moment: Moment = "2026-03-01T09:15:30.1234569+01:00".parse()?;
/// assert_eq!(moment.to_string(), "2026-03-01T08:15:30.123456Z");
/// assert!("2026-03-01 09:15".parse::<Moment>().is_err());
/// # Ok::<(), domain::time::MomentError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(DateTime<Utc>);

/// The text is no date-time of RFC 3339 with an offset.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is no time such as 2026-03-01T08:15:30Z or 2026-03-01T09:15:30+01:00")]
pub struct MomentError {
    text: String,
    source: chrono::ParseError,
}

impl Moment {
    /// Cuts a time to the microsecond.
    #[must_use]
    pub fn new(time: DateTime<Utc>) -> Self {
        Self(time.trunc_subsecs(6))
    }

    /// The time in UTC.
    #[must_use]
    pub const fn utc(self) -> DateTime<Utc> {
        self.0
    }

    /// Whole seconds from `earlier` to this moment, negative where it lies before.
    #[must_use]
    pub fn seconds_since(self, earlier: Self) -> i64 {
        (self.0 - earlier.0).num_seconds()
    }
}

impl From<DateTime<Utc>> for Moment {
    fn from(time: DateTime<Utc>) -> Self {
        Self::new(time)
    }
}

impl std::fmt::Display for Moment {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // Field by field: a moment is written ten times for a reading, and a format that is read
        // anew each time is the slowest way.
        let micros = self.0.timestamp_subsec_micros(); // a million and more in a leap second
        write!(
            f,
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:06}Z",
            self.0.year(),
            self.0.month(),
            self.0.day(),
            self.0.hour(),
            self.0.minute(),
            self.0.second() + micros / 1_000_000,
            micros % 1_000_000
        )
    }
}

impl std::str::FromStr for Moment {
    type Err = MomentError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match DateTime::parse_from_rfc3339(text) {
            Ok(time) => Ok(Self::new(time.with_timezone(&Utc))),
            Err(source) => Err(MomentError {
                text: text.chars().take(60).collect(),
                source,
            }),
        }
    }
}

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Moment {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for Moment {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .format(Some(utoipa::openapi::SchemaFormat::KnownFormat(
                utoipa::openapi::KnownFormat::DateTime,
            )))
            .examples(["2026-03-01T08:15:30.123456Z"])
            .into()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for Moment {}
