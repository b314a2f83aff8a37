//! The laboratory sample: its purpose, its custody, its moisture, and what is kept of it.
//!
//! Promises that custody events are only ever added, in the order of their times; that only a
//! customer's sample needs a lot. Refuses a control sample without its material, a barcode given
//! twice, and any event after the sample was disposed of.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{AccountId, ControlMaterialId, LotId, OrderId, SamplingId, SiteId};
use crate::quantity::Number;
use crate::time::Moment;

pub mod custody;

pub use custody::{CustodyAction, CustodyError, CustodyEvent};

/// Personal data and free text of a [`Sample`].
pub const DISCLOSED: &[&str] = &["/condition", "/custody/*/from", "/custody/*/to"];

/// The laboratory sample.
///
/// ```
/// use domain::samples::Sample;
/// let sample: Sample = serde_json::from_str(
///     r#"{"code":"S-0007","purpose":"customer","lot":"019ca869-5003-7d46-b59c-6cf85cca57e4",
///         "commodity":"maize-grain","mass_g":"1000","received_at":"2026-03-01T08:15:00Z"}"#)?;
/// assert!(sample.check().is_ok());
/// let stray = Sample { lot: None, ..sample };
/// assert_eq!(stray.check().unwrap_err().0[0].pointer, "/lot");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Sample {
    /// Unique in the laboratory.
    pub code: String,
    /// What its labels say; each unique in the laboratory.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub barcodes: Vec<String>,
    /// What it is measured for.
    pub purpose: Purpose,
    /// The place of the laboratory that has it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<SiteId>,
    /// The lot it represents.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<LotId>,
    /// The sampling it came from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sampling: Option<SamplingId>,
    /// The order it is measured for, where that is not the lot's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order: Option<OrderId>,
    /// The material it was taken from, where it is a control.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub control_material: Option<ControlMaterialId>,
    /// A word of the vocabulary of commodities.
    pub commodity: String,
    /// Mass in g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mass_g: Option<Number>,
    /// When the laboratory got it.
    pub received_at: Moment,
    /// Who took it in; absent where a program registered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received_by: Option<AccountId>,
    /// What it looked like (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<String>,
    /// Its moisture, where it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture: Option<Moisture>,
    /// What is kept of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retained: Option<RetainedPortion>,
    /// Where it was, in the order of time; only ever added to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub custody: Vec<CustodyEvent>,
}

/// What a sample is measured for.
///
/// ```
/// use domain::samples::Purpose;
/// assert_eq!(serde_json::to_string(&Purpose::KitAcceptance)?, "\"kit-acceptance\"");
/// assert!(Purpose::Customer.needs_lot());
/// assert!(!Purpose::Proficiency.needs_lot());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// For a customer: the only one that represents a lot.
    Customer,
    /// A control of a series.
    Control,
    /// A round of proficiency testing.
    Proficiency,
    /// Acceptance of a kit lot.
    KitAcceptance,
    /// Proof of a person's competence.
    Competence,
    /// Validation or verification of a procedure.
    Validation,
}

impl Purpose {
    /// Whether a sample for it must name its lot.
    #[must_use]
    pub const fn needs_lot(self) -> bool {
        matches!(self, Self::Customer)
    }
}

/// Moisture of a sample: limits on another basis than *as is* need it.
///
/// ```
/// use domain::samples::Moisture;
/// let wet: Moisture = serde_json::from_str(r#"{"percent":"14.2","method":"ISO 712"}"#)?;
/// assert!(wet.check().is_ok());
/// let absurd = Moisture { percent: "100".parse()?, ..wet };
/// assert!(absurd.check().is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Moisture {
    /// Percent by mass of the goods as they are, 0 to below 100.
    pub percent: Number,
    /// How it was measured.
    pub method: String,
    /// By whom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<AccountId>,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Moment>,
}

/// What is kept of a sample, for a retest or a dispute.
///
/// ```
/// use domain::samples::RetainedPortion;
/// let kept: RetainedPortion = serde_json::from_str(
///     r#"{"mass_g":"500","place":"shelf 4","until":"2026-06-01","seal":"778"}"#)?;
/// assert!(kept.check().is_ok());
/// assert!(RetainedPortion { place: " ".into(), ..kept }.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct RetainedPortion {
    /// Mass in g.
    pub mass_g: Number,
    /// Where it is kept.
    pub place: String,
    /// Last day it is kept.
    pub until: NaiveDate,
    /// Number of its seal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seal: Option<String>,
}

impl Moisture {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let possible = self.percent.0 >= 0.into() && self.percent.0 < 100.into();
        faults.require(possible, "/percent", || {
            format!("{} % is no moisture: 0 to below 100 by mass", self.percent)
        });
        entries::text(&mut faults, "/method", &self.method, entries::NAME_LENGTH);
        faults.into_result()
    }
}

impl RetainedPortion {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::positive(&mut faults, "/mass_g", Some(self.mass_g), "g");
        entries::text(&mut faults, "/place", &self.place, entries::NAME_LENGTH);
        let seal = self.seal.as_deref();
        entries::optional_text(&mut faults, "/seal", seal, entries::NAME_LENGTH);
        faults.into_result()
    }
}

impl Sample {
    /// Gathers what is wrong with the sample.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        for (position, barcode) in self.barcodes.iter().enumerate() {
            entries::code(&mut faults, &format!("/barcodes/{position}"), barcode);
        }
        entries::distinct(&mut faults, "/barcodes", &self.barcodes);
        entries::slug(&mut faults, "/commodity", &self.commodity);
        entries::positive(&mut faults, "/mass_g", self.mass_g, "g");
        let condition = self.condition.as_deref();
        entries::optional_text(&mut faults, "/condition", condition, entries::TEXT_LENGTH);
        faults.require(
            !self.purpose.needs_lot() || self.lot.is_some(),
            "/lot",
            || "a customer's sample represents a lot: name it".into(),
        );
        let control = self.purpose == Purpose::Control;
        faults.require(
            !control || self.control_material.is_some(),
            "/control_material",
            || "a control sample is taken from a control material: name it".into(),
        );
        if let Some(moisture) = &self.moisture {
            faults.nest("/moisture", moisture.check());
        }
        if let Some(retained) = &self.retained {
            faults.nest("/retained", retained.check());
            let fits = self.mass_g.is_none_or(|mass| retained.mass_g.0 <= mass.0);
            faults.require(fits, "/retained/mass_g", || {
                format!("{} g is more than the sample has", retained.mass_g)
            });
        }
        self.check_custody(&mut faults);
        faults.into_result()
    }

    fn check_custody(&self, faults: &mut Faults) {
        let mut last: Option<&CustodyEvent> = None;
        for (position, event) in self.custody.iter().enumerate() {
            faults.nest(&format!("/custody/{position}"), event.check());
            if let Some(last) = last {
                faults.require(
                    last.at <= event.at,
                    format!("/custody/{position}/at"),
                    || format!("{} lies before the event above it", event.at),
                );
                let over = last.action == CustodyAction::Disposed;
                faults.require(!over, format!("/custody/{position}"), || {
                    "nothing can happen to a sample after it was disposed of".into()
                });
            }
            last = Some(event);
        }
    }
}
