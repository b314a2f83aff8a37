//! A result as it is reported where some are below a limit.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::quantity::{Number, QuantityError};

use super::super::door::float;
use super::super::error::{Answer, StatisticsError};

/// A number, `<` a limit, or between two limits: `3.4`, `<2`, `2..5` (detected above 2, not
/// quantified below 5).
///
/// ```
/// use domain::statistics::censored::CensoredValue;
/// let below: CensoredValue = serde_json::from_str("\"<2\"")?;
/// assert!(matches!(below, CensoredValue::Below(_)));
/// assert_eq!("2..5".parse::<CensoredValue>().unwrap().to_string(), "2..5");
/// assert!(serde_json::from_str::<CensoredValue>("\"about 2\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CensoredValue {
    /// A result.
    Known(Number),
    /// Below this limit, not detected or not quantified.
    Below(Number),
    /// Detected above the first limit, below the second.
    Between(Number, Number),
}

impl std::fmt::Display for CensoredValue {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Known(value) => value.fmt(f),
            Self::Below(limit) => write!(f, "<{limit}"),
            Self::Between(low, high) => write!(f, "{low}..{high}"),
        }
    }
}

impl std::str::FromStr for CensoredValue {
    type Err = QuantityError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if let Some(limit) = text.strip_prefix('<') {
            return Ok(Self::Below(limit.trim_start().parse()?));
        }
        match text.split_once("..") {
            Some((low, high)) => Ok(Self::Between(low.parse()?, high.parse()?)),
            None => Ok(Self::Known(text.parse()?)),
        }
    }
}

impl Serialize for CensoredValue {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for CensoredValue {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for CensoredValue {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some(
                "A number, `<` a limit, or between two limits: `3.4`, `<2`, `2..5`.",
            ))
            .examples(["3.4", "<2", "2..5"])
            .into()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for CensoredValue {}

/// A result as a float: its number or its limit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub(super) value: f64,
    pub(super) below: bool,
}

/// Results and limits, all above zero where `logarithms` will be taken; between two limits
/// refused.
pub(super) fn seen(values: &[CensoredValue], logarithms: bool) -> Answer<Vec<Seen>> {
    let one = |value: &CensoredValue| {
        let (number, below) = match value {
            CensoredValue::Known(number) => (*number, false),
            CensoredValue::Below(number) => (*number, true),
            CensoredValue::Between(..) => {
                let must = "a number, or < a limit: this estimate has no use for two limits";
                return Err(StatisticsError::out_of_range("value", value, must));
            }
        };
        let value = float(number);
        if value < 0.0 || (value <= 0.0 && (below || logarithms)) {
            return Err(StatisticsError::out_of_range("value", number, "above 0"));
        }
        Ok(Seen { value, below })
    };
    values.iter().map(one).collect()
}
