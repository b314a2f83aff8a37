//! What a reader gave for one analyte.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::analytes::Analyte;
use crate::faults::Faults;
use crate::quantity::{Concentration, Number, Unit};
use crate::signals::StripSignals;

/// What kind of answer a reading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ReadingKind {
    /// A number.
    Number,
    /// Below a number: `<2`.
    Below,
    /// Above a number: `>50`.
    Above,
    /// Nothing seen: `ND`.
    NotDetected,
    /// No answer; kept, never used.
    Invalid,
}

/// Why a reading is invalid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum InvalidReason {
    /// The strip's control line did not appear.
    NoControlLine,
    /// The reader's port failed.
    PortFault,
    /// The strip was put in wrongly, or its picture could not be read.
    UnreadableStrip,
    /// The run was broken off.
    BrokenOff,
    /// Another one; the comment may say which.
    Other,
}

/// What the reader gave for one analyte.
///
/// ```
/// use domain::runs::Reading;
/// let reading: Reading = serde_json::from_str(
///     r#"{"analyte":"zearalenone","kind":"above","value":"0.5","unit":"mg/kg"}"#)?;
/// assert!(reading.check().is_ok());
/// assert_eq!(reading.concentration().unwrap().to_string(), "500.0");
/// let negative: Reading = serde_json::from_str(
///     r#"{"analyte":"zearalenone","kind":"number","value":"-3","unit":"ug/kg"}"#)?;
/// assert!(negative.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Of what.
    pub analyte: Analyte,
    /// What kind of answer.
    pub kind: ReadingKind,
    /// The number, or the bound; absent where nothing was detected or the reading is invalid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Number>,
    /// The same multiplied by the dilution factor, where an export gives both.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub multiplied_value: Option<Number>,
    /// The unit of both.
    pub unit: Unit,
    /// Why it is invalid; only then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<InvalidReason>,
    /// The signals of the strip's lines that the reader made it from, where it gives them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signals: Option<StripSignals>,
}

/// A kilogram in a kilogram, in µg/kg: no mass fraction is above it.
const WHOLE_UG_PER_KG: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);

impl Reading {
    /// What is wrong with the reading by itself.
    ///
    /// # Errors
    /// A value that is missing, negative, above a whole kilogram per kilogram or too large to be
    /// kept; one that must not be there; a reason that is missing or must not be there.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let wants_value = match self.kind {
            ReadingKind::Number | ReadingKind::Below | ReadingKind::Above => true,
            ReadingKind::NotDetected | ReadingKind::Invalid => false,
        };
        match (wants_value, self.value) {
            (true, None) => faults.add("/value", "is missing: a number or bound has a value"),
            (false, Some(value)) => faults.add(
                "/value",
                format!("{value} stands where there is no number: leave it out"),
            ),
            (true, Some(_)) | (false, None) => {}
        }
        for (value, pointer) in [
            (self.value, "/value"),
            (self.multiplied_value, "/multiplied_value"),
        ] {
            if let Some(value) = value {
                self.check_value(&mut faults, value, pointer);
            }
        }
        faults.require(
            self.multiplied_value.is_none() || wants_value,
            "/multiplied_value",
            || "stands where there is no number: leave it out".to_owned(),
        );
        let invalid = self.kind == ReadingKind::Invalid;
        faults.require(self.reason.is_some() == invalid, "/reason", || {
            if invalid {
                "is missing: say why the reading is invalid".to_owned()
            } else {
                "stands at a reading that is valid: leave it out".to_owned()
            }
        });
        if let Some(signals) = self.signals {
            faults.nest("/signals", signals.check());
        }
        faults.into_result()
    }

    fn check_value(&self, faults: &mut Faults, value: Number, pointer: &str) {
        faults.require(value.0 >= Decimal::ZERO, pointer, || {
            format!("{value} is negative: no mass fraction is")
        });
        faults.require(
            self.kind != ReadingKind::Below || !value.0.is_zero(),
            pointer,
            || "nothing is below zero".to_owned(),
        );
        let whole = Concentration::new(value.0, self.unit)
            .is_ok_and(|concentration| concentration.ug_per_kg() <= WHOLE_UG_PER_KG);
        faults.require(whole, pointer, || {
            format!(
                "{value} {} is more than a kilogram in a kilogram",
                self.unit.code()
            )
        });
    }

    /// The value or bound in µg/kg, where there is one that can be kept.
    #[must_use]
    pub fn concentration(&self) -> Option<Concentration> {
        Concentration::new(self.value?.0, self.unit).ok()
    }
}
