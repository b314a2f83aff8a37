//! What a result says about the true value, before any limit is asked.
//!
//! Promises that a bound stays a bound: only a quantified finding has a number.

use serde::{Deserialize, Serialize};

use crate::quantity::{Concentration, QuantityError};

/// What a result says about the true value, before any limit is asked; µg/kg.
///
/// ```
/// use domain::decisions::Finding;
/// use domain::quantity::{parse_decimal, Concentration};
/// let bound = Concentration::from_ug_per_kg(parse_decimal("50")?);
/// let finding = Finding::Above { bound };
/// assert_eq!(finding.to_string(), "> 50 µg/kg");
/// assert!(finding.quantified().is_none(), "over range is a bound, not a number");
/// # Ok::<(), domain::quantity::QuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// Nothing seen: below the limit of detection, scaled by the dilution factor.
    NotDetected {
        /// The limit of detection that applied.
        below: Concentration,
    },
    /// Seen, but below the limit of quantification: no number.
    DetectedBelow {
        /// The limit of detection that applied.
        lod: Concentration,
        /// The limit of quantification that applied.
        loq: Concentration,
    },
    /// The reader's own "less than".
    Below {
        /// The true value is below this.
        bound: Concentration,
    },
    /// A number inside the measuring range.
    Quantified {
        /// The value.
        value: Concentration,
    },
    /// Over range: a lower bound, not a number.
    Above {
        /// The true value is above this.
        bound: Concentration,
    },
}

impl Finding {
    /// The number, where there is one.
    #[must_use]
    pub const fn quantified(self) -> Option<Concentration> {
        match self {
            Self::Quantified { value } => Some(value),
            Self::NotDetected { .. }
            | Self::DetectedBelow { .. }
            | Self::Below { .. }
            | Self::Above { .. } => None,
        }
    }
}

impl Finding {
    /// The same finding with each of its concentrations changed alike.
    pub(super) fn try_map(
        self,
        change: impl Fn(Concentration) -> Result<Concentration, QuantityError>,
    ) -> Result<Self, QuantityError> {
        Ok(match self {
            Self::NotDetected { below } => Self::NotDetected {
                below: change(below)?,
            },
            Self::DetectedBelow { lod, loq } => Self::DetectedBelow {
                lod: change(lod)?,
                loq: change(loq)?,
            },
            Self::Below { bound } => Self::Below {
                bound: change(bound)?,
            },
            Self::Quantified { value } => Self::Quantified {
                value: change(value)?,
            },
            Self::Above { bound } => Self::Above {
                bound: change(bound)?,
            },
        })
    }
}

impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotDetected { below } => write!(f, "not detected (< {below} µg/kg)"),
            Self::DetectedBelow { loq, .. } => write!(f, "detected, < {loq} µg/kg"),
            Self::Below { bound } => write!(f, "< {bound} µg/kg"),
            Self::Quantified { value } => write!(f, "{value} µg/kg"),
            Self::Above { bound } => write!(f, "> {bound} µg/kg"),
        }
    }
}
