//! Decimal values and their units: the only arithmetic on measurements.
//!
//! Promises exact decimals with checked operations; refuses exponents, `-0`, values that the
//! decimal type cannot hold and units that are unknown or ambiguous.

pub(crate) mod exact;

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Places that a computed concentration, bound, uncertainty or probability is kept with.
pub const COMPUTED_PLACES: u32 = 6;

/// Why a text or a computation is no quantity.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// The text is not `-?(0|[1-9][0-9]*)(\.[0-9]+)?`, or is minus zero.
    #[error("\"{0}\" is not a plain decimal number such as 12 or 12.50")]
    NotADecimal(String),
    /// More digits than the decimal type holds (28 significant ones).
    #[error("\"{0}\" has more digits than can be kept exactly (28)")]
    TooLarge(String),
    /// The result of an operation leaves the range of the decimal type.
    #[error("the computation leaves the range that can be kept exactly")]
    Overflow,
    /// Division by zero.
    #[error("division by zero")]
    DivisionByZero,
    /// The unit is not one that is kept here.
    #[error("unit \"{0}\" is not known; write ug/kg, mg/kg, ng/g or ug/g")]
    UnknownUnit(String),
    /// The unit does not say whether it is by mass (`ppb`, `ppm`).
    #[error("unit \"{0}\" does not say that it is by mass; write ug/kg or mg/kg")]
    AmbiguousUnit(String),
}

/// Reads a decimal as formats require it: no exponent, no `+`, no `-0`, no leading zero.
/// The places stay as they were written.
///
/// # Errors
/// [`QuantityError::NotADecimal`] or [`QuantityError::TooLarge`].
///
/// ```
/// use domain::quantity::{parse_decimal, QuantityError};
/// assert_eq!(parse_decimal("10.0")?.to_string(), "10.0");
/// assert!(matches!(parse_decimal("1e3"), Err(QuantityError::NotADecimal(_))));
/// assert!(matches!(parse_decimal("-0"), Err(QuantityError::NotADecimal(_))));
/// # Ok::<(), QuantityError>(())
/// ```
pub fn parse_decimal(text: &str) -> Result<Decimal, QuantityError> {
    let refuse = || QuantityError::NotADecimal(text.chars().take(60).collect());
    let unsigned = text.strip_prefix('-').unwrap_or(text);
    let (whole, fraction) = match unsigned.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (unsigned, None),
    };
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole)
        || (whole.len() > 1 && whole.starts_with('0'))
        || fraction.is_some_and(|part| !digits(part))
    {
        return Err(refuse());
    }
    let value = Decimal::from_str_exact(text)
        .map_err(|_too_long| QuantityError::TooLarge(text.chars().take(60).collect()))?;
    if text.starts_with('-') && value.is_zero() {
        return Err(refuse());
    }
    Ok(value)
}

/// Brings a computed value to [`COMPUTED_PLACES`], half to even, with exactly that many places.
///
/// ```
/// use domain::quantity::{computed, parse_decimal};
/// assert_eq!(computed(parse_decimal("312")?).to_string(), "312.000000");
/// assert_eq!(computed(parse_decimal("0.0000005")?).to_string(), "0.000000");
/// # Ok::<(), domain::quantity::QuantityError>(())
/// ```
#[must_use]
pub fn computed(value: Decimal) -> Decimal {
    let mut rounded =
        value.round_dp_with_strategy(COMPUTED_PLACES, RoundingStrategy::MidpointNearestEven);
    rounded.rescale(COMPUTED_PLACES);
    if rounded.is_zero() {
        rounded.set_sign_positive(true);
    }
    rounded
}

/// A unit of mass fraction, by its UCUM code (<https://ucum.org>), all convertible to µg/kg.
///
/// ```
/// use domain::quantity::{QuantityError, Unit};
/// assert_eq!("mg/kg".parse::<Unit>()?, Unit::MgPerKg);
/// assert!(matches!("ppb".parse::<Unit>(), Err(QuantityError::AmbiguousUnit(_))));
/// assert!(matches!("ug/L".parse::<Unit>(), Err(QuantityError::UnknownUnit(_))));
/// # Ok::<(), QuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub enum Unit {
    /// Microgram per kilogram, in which everything is stored.
    #[serde(rename = "ug/kg")]
    UgPerKg,
    /// Milligram per kilogram: 1,000 µg/kg.
    #[serde(rename = "mg/kg")]
    MgPerKg,
    /// Nanogram per gram: 1 µg/kg.
    #[serde(rename = "ng/g")]
    NgPerG,
    /// Microgram per gram: 1,000 µg/kg.
    #[serde(rename = "ug/g")]
    UgPerG,
}

impl Unit {
    /// The UCUM code.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::UgPerKg => "ug/kg",
            Self::MgPerKg => "mg/kg",
            Self::NgPerG => "ng/g",
            Self::UgPerG => "ug/g",
        }
    }

    /// What one of this unit is in µg/kg.
    #[must_use]
    pub fn in_ug_per_kg(self) -> Decimal {
        match self {
            Self::UgPerKg | Self::NgPerG => Decimal::ONE,
            Self::MgPerKg | Self::UgPerG => Decimal::ONE_THOUSAND,
        }
    }
}

impl std::str::FromStr for Unit {
    type Err = QuantityError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "ug/kg" | "µg/kg" | "μg/kg" => Ok(Self::UgPerKg),
            "mg/kg" => Ok(Self::MgPerKg),
            "ng/g" => Ok(Self::NgPerG),
            "ug/g" | "µg/g" | "μg/g" => Ok(Self::UgPerG),
            "ppb" | "ppm" | "[ppb]" | "[ppm]" | "ppt" | "[pptr]" => {
                Err(QuantityError::AmbiguousUnit(text.to_owned()))
            }
            _ => Err(QuantityError::UnknownUnit(text.chars().take(40).collect())),
        }
    }
}

/// An entered or computed decimal, written as a string and kept with the places it came with.
///
/// ```
/// use domain::quantity::Number;
/// let mass: Number = serde_json::from_str("\"10.0\"")?;
/// assert_eq!(serde_json::to_string(&mass)?, "\"10.0\"");
/// let bare = serde_json::from_str::<Number>("10.0").unwrap_err();
/// assert!(bare.to_string().contains("in quotation marks"), "a JSON number loses its places");
/// assert!(serde_json::from_str::<Number>("\"1e3\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Number(pub Decimal);

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl std::str::FromStr for Number {
    type Err = QuantityError;
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        parse_decimal(text).map(Self)
    }
}

impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_str(Written)
    }
}

/// Takes a number from its text, and says of anything else how a number is written.
struct Written;

impl serde::de::Visitor<'_> for Written {
    type Value = Number;

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("a decimal number in quotation marks, such as \"12.50\"")
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Number, E> {
        text.parse().map_err(E::custom)
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for Number {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .pattern(Some(r"^-?(0|[1-9][0-9]*)(\.[0-9]+)?$"))
            .examples(["12.50"])
            .into()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for Number {}

/// A mass fraction of a mycotoxin in µg/kg.
///
/// ```
/// use domain::quantity::{parse_decimal, Concentration, Unit};
/// let limit = Concentration::new(parse_decimal("4")?, Unit::MgPerKg)?;
/// assert_eq!(limit.ug_per_kg(), parse_decimal("4000")?);
/// # Ok::<(), domain::quantity::QuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Concentration(Decimal);

impl Serialize for Concentration {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Number(self.0).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Concentration {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Number::deserialize(deserializer).map(|number| Self(number.0))
    }
}

#[cfg(feature = "openapi")]
impl utoipa::PartialSchema for Concentration {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        <Number as utoipa::PartialSchema>::schema()
    }
}

#[cfg(feature = "openapi")]
impl utoipa::ToSchema for Concentration {}

impl Concentration {
    /// A value of a unit, brought to µg/kg.
    ///
    /// # Errors
    /// [`QuantityError::Overflow`] where the product cannot be kept.
    pub fn new(value: Decimal, unit: Unit) -> Result<Self, QuantityError> {
        value
            .checked_mul(unit.in_ug_per_kg())
            .map(Self)
            .ok_or(QuantityError::Overflow)
    }

    /// A value that is in µg/kg already.
    #[must_use]
    pub const fn from_ug_per_kg(value: Decimal) -> Self {
        Self(value)
    }

    /// The value in µg/kg.
    #[must_use]
    pub const fn ug_per_kg(self) -> Decimal {
        self.0
    }
}

impl std::fmt::Display for Concentration {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}
