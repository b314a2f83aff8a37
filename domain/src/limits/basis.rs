//! On what basis a limit's number stands: as it is, or at a stated moisture, or on a part.
//!
//! Promises that every basis keeps the words of its source; refuses none: words that are not
//! understood are kept as such, and a decision on them stays open.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::parse_decimal;

/// A limit's basis, written in its source's words.
///
/// ```
/// use domain::limits::Basis;
/// let basis = Basis::from("88 % dry matter".to_owned());
/// assert_eq!(basis.moisture_percent().map(|m| m.to_string()), Some("12".to_owned()));
/// assert_eq!(basis.to_string(), "88 % dry matter");
/// assert!(matches!(Basis::from("fresh weight".to_owned()), Basis::Other(_)));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum Basis {
    /// The sample as it came.
    AsIs,
    /// The good as placed on the market.
    PlacedOnMarket,
    /// As placed on the market, with the husk ground in.
    HuskIncluded,
    /// Without any water.
    DryMatter,
    /// At so many percent of moisture by mass.
    Moisture(Decimal),
    /// At so many percent of dry matter by mass.
    DryMatterPercent(Decimal),
    /// At about so many percent of water by mass.
    AboutWater(Decimal),
    /// The edible part, as sold.
    EdiblePart,
    /// The kernel alone, without its shell.
    KernelMass,
    /// The food made ready by its instructions.
    ReadyToUse,
    /// Words that no rule here understands.
    Other(String),
}

impl Basis {
    /// The percent of moisture that the basis stands for, where it is one of moisture.
    #[must_use]
    pub fn moisture_percent(&self) -> Option<Decimal> {
        match self {
            Self::DryMatter => Some(Decimal::ZERO),
            Self::Moisture(percent) | Self::AboutWater(percent) => Some(*percent),
            Self::DryMatterPercent(percent) => Decimal::ONE_HUNDRED.checked_sub(*percent),
            Self::AsIs
            | Self::PlacedOnMarket
            | Self::HuskIncluded
            | Self::EdiblePart
            | Self::KernelMass
            | Self::ReadyToUse
            | Self::Other(_) => None,
        }
    }
}

impl std::fmt::Display for Basis {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::AsIs => f.write_str("as-is"),
            Self::PlacedOnMarket => f.write_str("as placed on the market"),
            Self::HuskIncluded => f.write_str("as placed on the market, husk included"),
            Self::DryMatter => f.write_str("dry matter"),
            Self::Moisture(percent) => write!(f, "{percent} % moisture"),
            Self::DryMatterPercent(percent) => write!(f, "{percent} % dry matter"),
            Self::AboutWater(percent) => write!(f, "about {percent} % water content"),
            Self::EdiblePart => f.write_str("edible part as sold"),
            Self::KernelMass => f.write_str("kernel mass"),
            Self::ReadyToUse => f.write_str("ready to use"),
            Self::Other(words) => f.write_str(words),
        }
    }
}

impl From<String> for Basis {
    fn from(words: String) -> Self {
        let percent = |before: &str, after: &str| {
            let number = words.strip_prefix(before)?.strip_suffix(after)?;
            let percent = parse_decimal(number).ok()?;
            (percent >= Decimal::ZERO && percent < Decimal::ONE_HUNDRED).then_some(percent)
        };
        match words.as_str() {
            "as-is" => return Self::AsIs,
            "as placed on the market" => return Self::PlacedOnMarket,
            "as placed on the market, husk included" => return Self::HuskIncluded,
            "dry matter" => return Self::DryMatter,
            "edible part as sold" => return Self::EdiblePart,
            "kernel mass" => return Self::KernelMass,
            "ready to use" => return Self::ReadyToUse,
            _ => {}
        }
        percent("", " % moisture")
            .map(Self::Moisture)
            .or_else(|| {
                percent("", " % dry matter")
                    .filter(|dry| !dry.is_zero())
                    .map(Self::DryMatterPercent)
            })
            .or_else(|| percent("about ", " % water content").map(Self::AboutWater))
            .unwrap_or(Self::Other(words))
    }
}

impl From<Basis> for String {
    fn from(basis: Basis) -> Self {
        basis.to_string()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for Basis {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .examples(["as-is", "12 % moisture", "dry matter"])
            .into()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for Basis {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_back_as_they_were() {
        for words in [
            "as-is",
            "as placed on the market",
            "as placed on the market, husk included",
            "dry matter",
            "12 % moisture",
            "13.5 % moisture",
            "88 % dry matter",
            "about 12 % water content",
            "edible part as sold",
            "kernel mass",
            "ready to use",
            "per square metre",
        ] {
            assert_eq!(Basis::from(words.to_owned()).to_string(), words);
        }
    }

    #[test]
    fn absurd_percentages_are_not_understood() {
        for words in [
            "100 % moisture",
            "-3 % moisture",
            "0 % dry matter",
            "12% moisture",
        ] {
            assert!(
                matches!(Basis::from(words.to_owned()), Basis::Other(_)),
                "{words}"
            );
        }
    }
}
