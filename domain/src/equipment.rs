//! Balance, pipette, grinder, timer and the like, and the checks that say whether they are good.
//!
//! Promises that a pipette delivers only volumes of its range and step. Refuses a range upside
//! down or with one end; an overdue or failed piece is not refused but holds what it was used for.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::SiteId;
use crate::quantity::Number;
use crate::time::Moment;
use crate::uncertainty::balances::BalanceClass;
use crate::uncertainty::tolerances::{CylinderStandard, GlassClass};

pub mod checks;

pub use checks::{
    CheckKind, CheckReading, CheckVerdict, Checked, Doubts, EquipmentCheck, SuspectWindow,
    failed_since, next_due_on, suspect_windows,
};

/// Personal data and free text of an [`EquipmentCheck`]; [`Equipment`] has none.
pub const DISCLOSED: &[&str] = &["/comment"];

/// A piece of equipment that is no reader.
///
/// ```
/// use domain::equipment::Equipment;
/// let pipette: Equipment = serde_json::from_str(
///     r#"{"code":"P-1","kind":"pipette","name":"20 to 200 µL","serial":"77120",
///         "minimum_volume_ul":"20","maximum_volume_ul":"200","step_volume_ul":"1"}"#)?;
/// assert!(pipette.check().is_ok());
/// assert!(pipette.delivers("150".parse()?));
/// assert!(!pipette.delivers("500".parse()?));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Equipment {
    /// Unique in the laboratory.
    pub code: String,
    /// What it is.
    pub kind: EquipmentKind,
    /// What people call it.
    pub name: String,
    /// Serial number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// Where it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<SiteId>,
    /// Last day its calibration is good for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_due_on: Option<NaiveDate>,
    /// Last day its intermediate check is good for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_due_on: Option<NaiveDate>,
    /// Since when it is out of use after a failed check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failed_since: Option<Moment>,
    /// Volumes in µL that a pipette of fixed volumes delivers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub nominal_volumes_ul: Vec<Number>,
    /// Smallest volume in µL of an adjustable pipette.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minimum_volume_ul: Option<Number>,
    /// Largest volume in µL of an adjustable pipette.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maximum_volume_ul: Option<Number>,
    /// Step in µL by which it is adjusted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step_volume_ul: Option<Number>,
    /// Accuracy class of a balance (OIML R 76-1).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy_class: Option<BalanceClass>,
    /// Verification scale interval e of a balance, in g.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub verification_interval_g: Option<Number>,
    /// The standard that a cylinder meets; its capacity is its largest nominal volume.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glass_standard: Option<CylinderStandard>,
    /// Class of a cylinder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glass_class: Option<GlassClass>,
}

/// What a piece of equipment is.
///
/// ```
/// use domain::equipment::EquipmentKind;
/// assert_eq!(serde_json::to_string(&EquipmentKind::MoistureMeter)?, "\"moisture-meter\"");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum EquipmentKind {
    /// Weighs.
    Balance,
    /// Delivers small volumes.
    Pipette,
    /// Measures large volumes.
    Cylinder,
    /// Grinds; its check is the sieve test.
    Grinder,
    /// Times.
    Timer,
    /// Shakes.
    Shaker,
    /// Clears by spinning.
    Centrifuge,
    /// Measures temperature.
    Thermometer,
    /// Measures moisture.
    MoistureMeter,
    /// Something else, as its name says.
    Other,
}

impl EquipmentKind {
    /// The word for people.
    ///
    /// ```
    /// assert_eq!(domain::equipment::EquipmentKind::MoistureMeter.name(), "moisture meter");
    /// ```
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Balance => "balance",
            Self::Pipette => "pipette",
            Self::Cylinder => "cylinder",
            Self::Grinder => "grinder",
            Self::Timer => "timer",
            Self::Shaker => "shaker",
            Self::Centrifuge => "centrifuge",
            Self::Thermometer => "thermometer",
            Self::MoistureMeter => "moisture meter",
            Self::Other => "equipment",
        }
    }
}

impl Equipment {
    /// Gathers what is wrong with the equipment.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        entries::text(&mut faults, "/name", &self.name, entries::NAME_LENGTH);
        let serial = self.serial.as_deref();
        entries::optional_text(&mut faults, "/serial", serial, entries::CODE_LENGTH);
        for (position, volume) in self.nominal_volumes_ul.iter().enumerate() {
            let pointer = format!("/nominal_volumes_ul/{position}");
            entries::positive(&mut faults, &pointer, Some(*volume), "µL");
        }
        entries::positive(
            &mut faults,
            "/minimum_volume_ul",
            self.minimum_volume_ul,
            "µL",
        );
        entries::positive(
            &mut faults,
            "/maximum_volume_ul",
            self.maximum_volume_ul,
            "µL",
        );
        entries::positive(&mut faults, "/step_volume_ul", self.step_volume_ul, "µL");
        entries::positive(
            &mut faults,
            "/verification_interval_g",
            self.verification_interval_g,
            "g",
        );
        let range = (self.minimum_volume_ul, self.maximum_volume_ul);
        faults.require(
            range.0.is_some() == range.1.is_some(),
            "/maximum_volume_ul",
            || "give both ends of the range, or neither".into(),
        );
        if let (Some(minimum), Some(maximum)) = range {
            faults.require(minimum.0 <= maximum.0, "/maximum_volume_ul", || {
                format!("{maximum} µL is less than the smallest volume, {minimum} µL")
            });
        }
        faults.into_result()
    }

    /// The equipment as its checks leave it, of which one of `kind` was recorded or corrected: when
    /// the
    /// next of that kind is due, where they say so, and since when it is out of use.
    ///
    /// ```
    /// use domain::equipment::{CheckKind, Equipment};
    /// let balance: Equipment = serde_json::from_str(
    ///     r#"{"code":"B-1","kind":"balance","name":"0.01 g","check_due_on":"2026-03-01"}"#)?;
    /// let failed = serde_json::from_str(
    ///     r#"{"of":{"equipment":"019ca869-5003-7d46-b59c-6cf85cca57e4"},"kind":"intermediate",
    ///         "at":"2026-03-01T07:00:00Z","readings":[{"found":"10.2","unit":"g"}],
    ///         "criterion":"within 0.1 g","as_found":"fail","as_left":"fail"}"#)?;
    /// let after = balance.with_checks(&[failed], CheckKind::Intermediate);
    /// assert_eq!(after.failed_since, "2026-03-01T07:00:00Z".parse().ok());
    /// assert_eq!(after.check_due_on, balance.check_due_on);
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn with_checks(&self, checks: &[EquipmentCheck], kind: CheckKind) -> Self {
        let mut next = self.clone();
        let due = next_due_on(checks, kind);
        match kind {
            CheckKind::Calibration => next.calibration_due_on = due.or(self.calibration_due_on),
            CheckKind::Intermediate | CheckKind::Sieve => {
                next.check_due_on = due.or(self.check_due_on);
            }
        }
        next.failed_since = failed_since(checks);
        next
    }

    /// The largest volume in µL that it delivers or measures, where that is recorded.
    ///
    /// ```
    /// use domain::equipment::Equipment;
    /// let cylinder: Equipment = serde_json::from_str(r#"{"code":"C-1","kind":"cylinder",
    ///     "name":"100 mL","nominal_volumes_ul":["50000","100000"]}"#)?;
    /// assert_eq!(cylinder.largest_volume_ul().unwrap().to_string(), "100000");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn largest_volume_ul(&self) -> Option<Number> {
        let fixed = self.nominal_volumes_ul.iter().copied();
        fixed.chain(self.maximum_volume_ul).max()
    }

    /// Whether a volume in µL is below the smallest that is recorded of it, so that no number of
    /// strokes gives that volume.
    ///
    /// ```
    /// use domain::equipment::Equipment;
    /// let pipette: Equipment = serde_json::from_str(r#"{"code":"P-5","kind":"pipette",
    ///     "name":"5 mL","minimum_volume_ul":"500","maximum_volume_ul":"5000"}"#)?;
    /// assert!(pipette.is_too_large_for("100".parse().unwrap()));
    /// assert!(!pipette.is_too_large_for("9000".parse().unwrap()), "in two strokes");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn is_too_large_for(&self, volume_ul: Number) -> bool {
        let fixed = self.nominal_volumes_ul.iter().copied();
        let smallest = fixed.chain(self.minimum_volume_ul).min();
        smallest.is_some_and(|smallest| smallest > volume_ul)
    }

    /// The day on which its calibration or its check, whichever is sooner, is due; none where
    /// neither has a date.
    ///
    /// ```
    /// use domain::equipment::Equipment;
    /// let balance: Equipment = serde_json::from_str(r#"{"code":"B-1","kind":"balance",
    ///     "name":"0.01 g","calibration_due_on":"2027-01-31"}"#)?;
    /// assert_eq!(balance.due_on(), balance.calibration_due_on);
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn due_on(&self) -> Option<NaiveDate> {
        [self.calibration_due_on, self.check_due_on]
            .into_iter()
            .flatten()
            .min()
    }

    /// Whether it delivers a volume in µL: one of its fixed ones, or one in its range and on its
    /// step.
    #[must_use]
    pub fn delivers(&self, volume_ul: Number) -> bool {
        if self
            .nominal_volumes_ul
            .iter()
            .any(|one| one.0 == volume_ul.0)
        {
            return true;
        }
        let (Some(minimum), Some(maximum)) = (self.minimum_volume_ul, self.maximum_volume_ul)
        else {
            return false;
        };
        let on_step = match self.step_volume_ul {
            Some(step) => volume_ul.0.checked_rem(step.0) == Some(Decimal::ZERO),
            None => true,
        };
        minimum.0 <= volume_ul.0 && volume_ul.0 <= maximum.0 && on_step
    }
}
