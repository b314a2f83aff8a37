//! The instrument that reads strips: its ports, the curves loaded into it, its faults.
//!
//! Promises that it is known who loaded which lot's curve and when, and since when a port or the
//! reader is faulty. Refuses a port that it does not have and a curve loaded twice at one moment.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::entries;
use crate::equipment::{CheckKind, EquipmentCheck, failed_since, next_due_on};
use crate::faults::Faults;
use crate::id::{AccountId, SiteId};
use crate::time::Moment;

/// Personal data and free text of a [`Reader`].
pub const DISCLOSED: &[&str] = &["/port_faults/*/observation"];

/// The instrument that reads strips.
///
/// ```
/// use domain::readers::Reader;
/// let reader: Reader = serde_json::from_str(
///     r#"{"serial":"R-1001","name":"bench 1","ports":3}"#)?;
/// assert!(reader.check().is_ok());
/// assert!(reader.has_port(3) && !reader.has_port(4) && !reader.has_port(0));
/// assert_eq!(Reader { ports: 0, ..reader }.check().unwrap_err().0[0].pointer, "/ports");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Reader {
    /// Serial number, unique in the laboratory.
    pub serial: String,
    /// What people call it.
    pub name: String,
    /// Where it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<SiteId>,
    /// How many ports it has; they are numbered from 1.
    pub ports: u8,
    /// Which curves were loaded, in the order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub curves: Vec<LoadedCurve>,
    /// Last day its calibration is good for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_due_on: Option<NaiveDate>,
    /// Last day its intermediate check is good for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_due_on: Option<NaiveDate>,
    /// Since when it is out of use after a failed check.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failed_since: Option<Moment>,
    /// Faults of single ports.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub port_faults: Vec<PortFault>,
}

/// A curve that was loaded into a reader.
///
/// ```
/// use domain::readers::LoadedCurve;
/// let curve: LoadedCurve = serde_json::from_str(
///     r#"{"curve_lot":"C-77","matrix":"maize","loaded_at":"2026-03-01T07:00:00Z"}"#)?;
/// assert!(curve.check().is_ok());
/// assert!(LoadedCurve { curve_lot: String::new(), ..curve }.check().is_err());
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct LoadedCurve {
    /// The lot whose curve it is.
    pub curve_lot: String,
    /// The matrix it is for, where the curve is for one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matrix: Option<String>,
    /// Who loaded it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loaded_by: Option<AccountId>,
    /// When.
    pub loaded_at: Moment,
}

/// A fault of one port.
///
/// ```
/// use domain::readers::PortFault;
/// let fault: PortFault = serde_json::from_str(
///     r#"{"port":2,"since":"2026-03-01T07:00:00Z","until":"2026-03-02T07:00:00Z"}"#)?;
/// assert!(fault.covers("2026-03-01T12:00:00Z".parse()?));
/// assert!(!fault.covers("2026-03-02T07:00:00Z".parse()?), "mended at that moment");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct PortFault {
    /// Which port.
    pub port: u8,
    /// From when on.
    pub since: Moment,
    /// Until when; absent while it lasts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Moment>,
    /// What was seen (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub observation: Option<String>,
}

/// Why a reader does not change.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReaderError {
    /// There is no such port.
    #[error("reader {serial} has ports 1 to {ports}, no port {port}")]
    NoSuchPort {
        /// Serial number.
        serial: String,
        /// How many ports it has.
        ports: u8,
        /// The port asked for.
        port: u8,
    },
    /// That curve is loaded already.
    #[error("reader {serial} has the curve of lot {curve_lot} loaded already")]
    LoadedAlready {
        /// Serial number.
        serial: String,
        /// Lot of the curve.
        curve_lot: String,
    },
    /// The port is faulty already, or is not faulty.
    #[error("port {port} of reader {serial} {state}", state = if *.faulty {
        "is recorded as faulty already" } else { "is not recorded as faulty" })]
    PortUnchanged {
        /// Serial number.
        serial: String,
        /// The port.
        port: u8,
        /// Whether it is faulty.
        faulty: bool,
    },
}

impl LoadedCurve {
    /// Gathers what is wrong with it.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/curve_lot", &self.curve_lot);
        let matrix = self.matrix.as_deref();
        entries::optional_text(&mut faults, "/matrix", matrix, entries::NAME_LENGTH);
        faults.into_result()
    }
}

impl PortFault {
    /// Whether the port was faulty at a moment.
    #[must_use]
    pub fn covers(&self, at: Moment) -> bool {
        self.since <= at && self.until.is_none_or(|until| at < until)
    }
}

impl Reader {
    /// Gathers what is wrong with the reader.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/serial", &self.serial);
        entries::text(&mut faults, "/name", &self.name, entries::NAME_LENGTH);
        faults.require(self.ports > 0, "/ports", || {
            "a reader has at least one port".into()
        });
        for (position, curve) in self.curves.iter().enumerate() {
            faults.nest(&format!("/curves/{position}"), curve.check());
        }
        for (position, fault) in self.port_faults.iter().enumerate() {
            let pointer = format!("/port_faults/{position}");
            faults.require(self.has_port(fault.port), format!("{pointer}/port"), || {
                format!("there is no port {}", fault.port)
            });
            let ordered = fault.until.is_none_or(|until| fault.since <= until);
            faults.require(ordered, format!("{pointer}/until"), || {
                "lies before the fault began".into()
            });
            let seen = fault.observation.as_deref();
            let pointer = format!("{pointer}/observation");
            entries::optional_text(&mut faults, &pointer, seen, entries::TEXT_LENGTH);
        }
        faults.into_result()
    }

    /// The reader as its checks leave it, of which one of `kind` was recorded or corrected: when
    /// the
    /// next of that kind is due, where they say so, and since when it is out of use.
    ///
    /// ```
    /// use domain::{equipment::CheckKind, readers::Reader};
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1}"#)?;
    /// let check = serde_json::from_str(
    ///     r#"{"of":{"reader":"019ca869-5003-7d46-b59c-6cf85cca57e4"},"kind":"calibration",
    ///         "at":"2026-03-01T07:00:00Z","readings":[{"found":"1","unit":"1"}],
    ///         "criterion":"within 0.1","as_found":"pass","as_left":"pass",
    ///         "next_due_on":"2027-03-01"}"#)?;
    /// let calibrated = reader.with_checks(&[check], CheckKind::Calibration);
    /// assert_eq!(calibrated.calibration_due_on, "2027-03-01".parse().ok());
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

    /// The day on which its calibration or its check, whichever is sooner, is due; none where
    /// neither has a date.
    ///
    /// ```
    /// use domain::readers::Reader;
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1,
    ///     "calibration_due_on":"2027-01-31","check_due_on":"2026-04-01"}"#)?;
    /// assert_eq!(reader.due_on(), reader.check_due_on);
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn due_on(&self) -> Option<NaiveDate> {
        [self.calibration_due_on, self.check_due_on]
            .into_iter()
            .flatten()
            .min()
    }

    /// Whether it has a port of that number.
    #[must_use]
    pub const fn has_port(&self, port: u8) -> bool {
        port > 0 && port <= self.ports
    }

    /// Whether a port was faulty at a moment.
    ///
    /// ```
    /// use domain::readers::Reader;
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1,
    ///     "port_faults":[{"port":1,"since":"2026-03-01T07:00:00Z"}]}"#)?;
    /// assert!(reader.port_is_faulty(1, "2026-03-01T07:00:00Z".parse()?));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn port_is_faulty(&self, port: u8, at: Moment) -> bool {
        self.port_faults
            .iter()
            .any(|fault| fault.port == port && fault.covers(at))
    }

    /// Whether the curve of a lot, for a matrix where one is named, was loaded at a moment.
    ///
    /// ```
    /// use domain::readers::Reader;
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1,
    ///     "curves":[{"curve_lot":"C-77","loaded_at":"2026-03-01T07:00:00Z"}]}"#)?;
    /// assert!(reader.had_curve("C-77", None, "2026-03-01T08:00:00Z".parse()?));
    /// assert!(!reader.had_curve("C-77", None, "2026-03-01T06:00:00Z".parse()?));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn had_curve(&self, curve_lot: &str, matrix: Option<&str>, at: Moment) -> bool {
        self.curves.iter().any(|curve| {
            let fits = match (curve.matrix.as_deref(), matrix) {
                (Some(loaded), Some(asked)) => loaded == asked,
                (Some(_) | None, None) | (None, Some(_)) => true,
            };
            curve.curve_lot == curve_lot && fits && curve.loaded_at <= at
        })
    }

    /// The reader with one more curve.
    ///
    /// # Errors
    /// [`ReaderError::LoadedAlready`].
    ///
    /// ```
    /// use domain::readers::{LoadedCurve, Reader};
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1}"#)?;
    /// let curve: LoadedCurve = serde_json::from_str(
    ///     r#"{"curve_lot":"C-77","loaded_at":"2026-03-01T07:00:00Z"}"#)?;
    /// let loaded = reader.with_curve(curve.clone())?;
    /// assert!(loaded.with_curve(curve).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_curve(&self, curve: LoadedCurve) -> Result<Self, ReaderError> {
        let same =
            |one: &LoadedCurve| one.curve_lot == curve.curve_lot && one.matrix == curve.matrix;
        if self.curves.iter().any(same) {
            return Err(ReaderError::LoadedAlready {
                serial: self.serial.clone(),
                curve_lot: curve.curve_lot,
            });
        }
        let mut next = self.clone();
        next.curves.push(curve);
        next.curves.sort_by_key(|one| one.loaded_at);
        Ok(next)
    }

    /// The reader with one more faulty port.
    ///
    /// # Errors
    /// [`ReaderError::NoSuchPort`], or [`ReaderError::PortUnchanged`] while it is faulty.
    ///
    /// ```
    /// use domain::readers::{PortFault, Reader};
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1}"#)?;
    /// let fault: PortFault = serde_json::from_str(
    ///     r#"{"port":1,"since":"2026-03-01T07:00:00Z"}"#)?;
    /// let faulty = reader.with_port_fault(fault.clone())?;
    /// assert!(faulty.with_port_fault(fault.clone()).is_err());
    /// assert!(reader.with_port_fault(PortFault { port: 2, ..fault }).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_port_fault(&self, fault: PortFault) -> Result<Self, ReaderError> {
        let (serial, port) = (self.serial.clone(), fault.port);
        if !self.has_port(port) {
            let ports = self.ports;
            return Err(ReaderError::NoSuchPort {
                serial,
                ports,
                port,
            });
        }
        if self.port_is_faulty(port, fault.since) {
            return Err(ReaderError::PortUnchanged {
                serial,
                port,
                faulty: true,
            });
        }
        let mut next = self.clone();
        next.port_faults.push(fault);
        Ok(next)
    }

    /// The reader with a port mended at a moment.
    ///
    /// # Errors
    /// [`ReaderError::PortUnchanged`] where it was not faulty then.
    ///
    /// ```
    /// use domain::readers::Reader;
    /// let reader: Reader = serde_json::from_str(r#"{"serial":"R-1","name":"one","ports":1,
    ///     "port_faults":[{"port":1,"since":"2026-03-01T07:00:00Z"}]}"#)?;
    /// let mended = reader.with_port_mended(1, "2026-03-02T07:00:00Z".parse()?)?;
    /// assert!(mended.with_port_mended(1, "2026-03-03T07:00:00Z".parse()?).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_port_mended(&self, port: u8, at: Moment) -> Result<Self, ReaderError> {
        let mut next = self.clone();
        let open = next
            .port_faults
            .iter_mut()
            .find(|fault| fault.port == port && fault.until.is_none() && fault.since <= at);
        match open {
            Some(fault) => {
                fault.until = Some(at);
                Ok(next)
            }
            None => Err(ReaderError::PortUnchanged {
                serial: self.serial.clone(),
                port,
                faulty: false,
            }),
        }
    }
}
