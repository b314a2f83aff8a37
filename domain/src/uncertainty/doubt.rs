//! A doubt as it is stated, turned into a standard uncertainty.
//!
//! Promises the divisor of each way of stating one (JCGM 100:2008, 4.2 and 4.3); refuses doubts
//! below zero and coverage factors, levels and counts that are none.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::quantity::Number;
use crate::quantity::exact::{
    Answer, at_least, not_negative, out_of_range, over, positive, square_root, times,
};
use crate::statistics::distributions::normal_quantile;

/// How values are spread between two limits.
///
/// ```
/// use domain::uncertainty::Shape;
/// assert_eq!(serde_json::to_string(&Shape::Triangular)?, "\"triangular\"");
/// assert!(serde_json::from_str::<Shape>("\"round\"").is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Shape {
    /// Every value between the limits as likely as another: a / √3 (GUM 4.3.7).
    #[default]
    Rectangular,
    /// Values near the middle likelier: a / √6 (GUM 4.3.9, QUAM 8.1).
    Triangular,
    /// Values near the limits likelier, as of a cycling temperature: a / √2 (GUM 4.4.5).
    UShaped,
}

impl Shape {
    fn divisor_squared(self) -> Decimal {
        match self {
            Self::Rectangular => Decimal::from(3),
            Self::Triangular => Decimal::from(6),
            Self::UShaped => Decimal::TWO,
        }
    }

    /// The word for people.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rectangular => "rectangular",
            Self::Triangular => "triangular",
            Self::UShaped => "u-shaped",
        }
    }
}

/// A doubt as it was stated. With `relative` its numbers are fractions of the value that it is
/// about, else they have the value's unit.
///
/// ```
/// use domain::uncertainty::Doubt;
/// // A flask of 100 mL ± 0.1 mL: 0.04 mL in QUAM:2012.P1, example A1.
/// let flask: Doubt = serde_json::from_str(
///     r#"{"kind":"half-width","half_width":"0.1","shape":"triangular"}"#)?;
/// let u = flask.standard("flask", "100".parse().unwrap()).unwrap();
/// assert_eq!(u.round_dp(4).to_string(), "0.0408");
/// let bad: Doubt = serde_json::from_str(r#"{"kind":"half-width","half_width":"-1"}"#)?;
/// assert!(bad.standard("flask", "100".parse().unwrap()).is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Doubt {
    /// A standard uncertainty.
    Standard {
        /// u, zero or more.
        standard: Number,
        /// Whether it is a fraction of the value.
        #[serde(default)]
        relative: bool,
    },
    /// An expanded uncertainty, as certificates state it: U / k.
    Expanded {
        /// U, zero or more.
        expanded: Number,
        /// k, above zero.
        coverage_factor: Number,
        /// Whether U is a fraction of the value.
        #[serde(default)]
        relative: bool,
    },
    /// Limits at a level of confidence, taken as normal: a / z (GUM 4.3.4).
    Confidence {
        /// a in ± a, zero or more.
        half_width: Number,
        /// The level in percent, above 0 and below 100.
        level_percent: Number,
        /// Whether a is a fraction of the value.
        #[serde(default)]
        relative: bool,
    },
    /// Limits without a level, such as a tolerance.
    HalfWidth {
        /// a in ± a, zero or more.
        half_width: Number,
        /// How values are spread between the limits.
        #[serde(default)]
        shape: Shape,
        /// Whether a is a fraction of the value.
        #[serde(default)]
        relative: bool,
    },
    /// The scatter of repeated observations, of which `observations` were averaged: s / √n.
    Deviation {
        /// s, zero or more.
        standard_deviation: Number,
        /// How many were averaged, 1 or more.
        #[serde(default = "one")]
        observations: u32,
        /// Whether s is a fraction of the value.
        #[serde(default)]
        relative: bool,
    },
    /// A volume of liquid at another temperature than its vessel was calibrated at:
    /// V · α · ΔT / divisor (QUAM:2012.P1, example A1).
    Temperature {
        /// ΔT in ± ΔT, °C, zero or more.
        half_width_degc: Number,
        /// α, volume expansion a °C; 0.00021 for water where none is given.
        #[serde(default = "water")]
        expansion_per_degc: Number,
        /// How temperatures are spread between the limits.
        #[serde(default)]
        shape: Shape,
    },
}

const fn one() -> u32 {
    1
}

fn water() -> Number {
    Number(Decimal::new(21, 5))
}

impl Doubt {
    /// The standard uncertainty that it gives for a value, in the value's unit, unrounded.
    ///
    /// # Errors
    /// A number below zero, no observation, a level or factor that is none.
    pub fn standard(&self, quantity: &str, value: Decimal) -> Answer<Decimal> {
        let spread = |half_width: Decimal, shape: Shape| {
            over(
                quantity,
                half_width,
                square_root(quantity, shape.divisor_squared())?,
            )
        };
        let (own, relative) = match self {
            Self::Standard { standard, relative } => {
                (not_negative(quantity, *standard)?, *relative)
            }
            Self::Expanded {
                expanded,
                coverage_factor,
                relative,
            } => {
                let factor = positive(&format!("coverage factor of {quantity}"), *coverage_factor)?;
                let expanded = not_negative(quantity, *expanded)?;
                (over(quantity, expanded, factor)?, *relative)
            }
            Self::Confidence {
                half_width,
                level_percent,
                relative,
            } => {
                let z = two_sided_normal(quantity, *level_percent)?;
                (
                    over(quantity, not_negative(quantity, *half_width)?, z)?,
                    *relative,
                )
            }
            Self::HalfWidth {
                half_width,
                shape,
                relative,
            } => (
                spread(not_negative(quantity, *half_width)?, *shape)?,
                *relative,
            ),
            Self::Deviation {
                standard_deviation,
                observations,
                relative,
            } => {
                let seen = usize::try_from(*observations).unwrap_or(usize::MAX);
                at_least(&format!("observations of {quantity}"), seen, 1)?;
                let root = square_root(quantity, Decimal::from(*observations))?;
                let deviation = not_negative(quantity, *standard_deviation)?;
                (over(quantity, deviation, root)?, *relative)
            }
            Self::Temperature {
                half_width_degc,
                expansion_per_degc,
                shape,
            } => {
                let width = not_negative(quantity, *half_width_degc)?;
                let expansion = not_negative(quantity, *expansion_per_degc)?;
                (spread(times(quantity, width, expansion)?, *shape)?, true)
            }
        };
        if relative {
            times(quantity, own, value.abs())
        } else {
            Ok(own)
        }
    }

    /// How it was stated, in words.
    #[must_use]
    pub fn words(&self) -> String {
        let part = |relative: bool| if relative { " of the value" } else { "" };
        match self {
            Self::Standard { standard, relative } => {
                format!("standard uncertainty {standard}{}", part(*relative))
            }
            Self::Expanded {
                expanded,
                coverage_factor,
                relative,
            } => format!(
                "U = {expanded}{} with k = {coverage_factor}",
                part(*relative)
            ),
            Self::Confidence {
                half_width,
                level_percent,
                relative,
            } => format!("± {half_width}{} at {level_percent} %", part(*relative)),
            Self::HalfWidth {
                half_width,
                shape,
                relative,
            } => format!("± {half_width}{}, {}", part(*relative), shape.name()),
            Self::Deviation {
                standard_deviation,
                observations,
                relative,
            } => format!(
                "standard deviation {standard_deviation}{}, mean of {observations}",
                part(*relative)
            ),
            Self::Temperature {
                half_width_degc,
                expansion_per_degc,
                shape,
            } => format!(
                "± {half_width_degc} °C, expansion {expansion_per_degc} a °C, {}",
                shape.name()
            ),
        }
    }
}

/// The normal quantile between whose both signs a level in percent lies.
pub(crate) fn two_sided_normal(quantity: &str, level_percent: Number) -> Answer<Decimal> {
    normal_quantile(upper_probability(quantity, level_percent)?)
}

/// The probability below the upper end of a two-sided interval of a level in percent.
pub(crate) fn upper_probability(quantity: &str, level_percent: Number) -> Answer<Decimal> {
    let level = level_percent.0;
    if level <= Decimal::ZERO || level >= Decimal::ONE_HUNDRED {
        let quantity = format!("level of {quantity}");
        return Err(out_of_range(&quantity, level, "above 0 and below 100 %"));
    }
    over(
        quantity,
        Decimal::ONE_HUNDRED.saturating_add(level),
        Decimal::from(200),
    )
}
