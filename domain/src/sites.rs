//! A place of the laboratory, and the bench that its preparations and runs are done on.
//!
//! Promises that what stands on the bench fills what a step leaves out, so that nobody types a
//! balance or a water lot twice, and that what was given is never replaced. Refuses a site without
//! a name or in a time zone that the IANA database does not have.

use serde::{Deserialize, Serialize};

use crate::entries;
use crate::faults::Faults;
use crate::id::{EquipmentId, ProcedureId, ReaderId};
use crate::preparations::{Clarification, Liquid, Preparation, PreparationKind};
use crate::quantity::Number;
use crate::runs::RunEntry;

/// Personal data and free text of a [`Site`].
pub const DISCLOSED: &[&str] = &["/address"];

/// A place of the laboratory.
///
/// ```
/// use domain::sites::Site;
/// let site: Site = serde_json::from_str(
///     r#"{"code":"GATE","name":"River gate","time_zone":"Europe/Berlin"}"#)?;
/// assert!(site.check().is_ok());
/// let nowhere = Site { time_zone: "CET+1".into(), ..site };
/// assert_eq!(nowhere.check().unwrap_err().0[0].pointer, "/time_zone");
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Unique in the laboratory.
    pub code: String,
    /// What people call it.
    pub name: String,
    /// Postal address (disclosed).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// IANA time zone, such as `Europe/Berlin`: local dates of the site are read in it.
    pub time_zone: String,
    /// What preparation steps and runs use unless they say otherwise.
    #[serde(default, skip_serializing_if = "Bench::is_empty")]
    pub bench: Bench,
}

/// The defaults of preparation steps and runs.
///
/// ```
/// use domain::sites::Bench;
/// assert!(Bench::default().is_empty());
/// assert!(serde_json::from_str::<Bench>(r#"{"oven":"019ca869-5003-7d46-b59c-6cf85cca57e4"}"#)
///     .is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Bench {
    /// Reader of the runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reader: Option<ReaderId>,
    /// Grinds the sample.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grinder: Option<EquipmentId>,
    /// Weighs the test portion.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub balance: Option<EquipmentId>,
    /// Measures the extraction liquid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cylinder: Option<EquipmentId>,
    /// Deliver the volumes of dilutions and runs.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pipettes: Vec<EquipmentId>,
    /// Times shaking and reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub timer: Option<EquipmentId>,
    /// Shakes the extract.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shaker: Option<EquipmentId>,
    /// Clears the extract where it is not filtered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centrifuge: Option<EquipmentId>,
    /// The written method that is worked by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub procedure: Option<ProcedureId>,
    /// Liquids that stand open for extraction, each with its lot.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub liquids: Vec<Liquid>,
}

impl Site {
    /// Gathers what is wrong with the site.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        entries::text(&mut faults, "/name", &self.name, entries::NAME_LENGTH);
        let address = self.address.as_deref();
        entries::optional_text(&mut faults, "/address", address, entries::TEXT_LENGTH);
        faults.require(
            self.time_zone.parse::<chrono_tz::Tz>().is_ok(),
            "/time_zone",
            || "write the IANA name of the site's time zone, such as Europe/Berlin".into(),
        );
        faults.nest("/bench", self.bench.check());
        faults.into_result()
    }
}

impl Bench {
    /// Whether nothing stands on it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Gathers what is wrong with the bench.
    ///
    /// # Errors
    /// Every fault, with its pointer.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::distinct(&mut faults, "/pipettes", &self.pipettes);
        for (position, liquid) in self.liquids.iter().enumerate() {
            faults.nest(&format!("/liquids/{position}"), liquid.check());
        }
        faults.into_result()
    }

    /// Fills what a preparation step leaves out: its procedure; its equipment, where it names
    /// none; its liquids, where it is an extract and names none.
    ///
    /// A ground sample takes the grinder, a test portion the balance, an extract the cylinder,
    /// shaker and timer, and the centrifuge where it was cleared by one. What the step names is
    /// left as it is.
    ///
    /// ```
    /// use domain::preparations::Preparation;
    /// use domain::sites::Bench;
    /// let bench: Bench = serde_json::from_str(
    ///     r#"{"balance":"019ca869-5003-7d46-b59c-6cf85cca57e4"}"#)?;
    /// let weighed: Preparation = serde_json::from_str(
    ///     r#"{"kind":"test-portion","sample":"019ca869-5003-7d46-b59c-6cf85cca57e5",
    ///         "at":"2026-03-01T08:00:00Z","mass_g":"10.0"}"#)?;
    /// let filled = bench.fill_preparation(weighed);
    /// assert_eq!(filled.equipment.first().copied(), bench.balance);
    /// assert_eq!(bench.fill_preparation(filled.clone()), filled);
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn fill_preparation(&self, mut step: Preparation) -> Preparation {
        step.procedure = step.procedure.or(self.procedure);
        if step.equipment.is_empty() {
            step.equipment = self.equipment_for(step.kind, step.clarification);
        }
        if step.liquids.is_empty() && step.kind == PreparationKind::Extract {
            step.liquids.clone_from(&self.liquids);
        }
        step
    }

    /// Fills what a run leaves out: its reader, where it was not exported with a serial number; its
    /// procedure, where it names no kit lot that brings one; and, where the bench has just one
    /// pipette, the pipette of those dilution steps whose volumes it is not `too_large` for.
    ///
    /// ```
    /// use domain::runs::RunEntry;
    /// use domain::sites::Bench;
    /// let bench: Bench = serde_json::from_str(
    ///     r#"{"reader":"019ca869-5003-7d46-b59c-6cf85cca57e4"}"#)?;
    /// let entry: RunEntry = serde_json::from_str(r#"{"port":1}"#)?;
    /// assert_eq!(bench.fill_run(entry.clone(), |_, _| false).reader, bench.reader);
    /// let exported = RunEntry { reader_serial: Some("R-9".into()), ..entry };
    /// assert_eq!(bench.fill_run(exported, |_, _| false).reader, None, "it says which one");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    #[must_use]
    pub fn fill_run(
        &self,
        mut entry: RunEntry,
        too_large: impl Fn(EquipmentId, Number) -> bool,
    ) -> RunEntry {
        if entry.reader_serial.is_none() {
            entry.reader = entry.reader.or(self.reader);
        }
        if entry.kit_lot.is_none() {
            entry.procedure = entry.procedure.or(self.procedure);
        }
        if let [only] = self.pipettes.as_slice() {
            for step in &mut entry.dilution {
                let diluent = step.diluent_volume_ul;
                let is_other = too_large(*only, step.sample_volume_ul)
                    || (step.diluent_pipette.is_none() && too_large(*only, diluent));
                step.pipette = step.pipette.or((!is_other).then_some(*only));
            }
        }
        entry
    }

    fn equipment_for(
        &self,
        kind: PreparationKind,
        clarification: Option<Clarification>,
    ) -> Vec<EquipmentId> {
        let used = match kind {
            PreparationKind::GroundSample => vec![self.grinder],
            PreparationKind::TestPortion => vec![self.balance],
            PreparationKind::Extract => vec![
                self.cylinder,
                self.shaker,
                self.timer,
                self.centrifuge
                    .filter(|_| clarification == Some(Clarification::Centrifuge)),
            ],
        };
        used.into_iter().flatten().collect()
    }
}

#[cfg(test)]
mod tests {
    #![expect(
        clippy::unwrap_used,
        clippy::indexing_slicing,
        reason = "tests may unwrap and index"
    )]
    use super::*;

    fn bench() -> Bench {
        serde_json::from_str(
            r#"{"grinder":"019ca869-5003-7d46-b59c-6cf85cca5701",
            "shaker":"019ca869-5003-7d46-b59c-6cf85cca5702",
            "centrifuge":"019ca869-5003-7d46-b59c-6cf85cca5703",
            "liquids":[{"name":"distilled water","lot":"W-12","volume_ml":"50"}]}"#,
        )
        .unwrap()
    }

    fn extract(more: &str) -> Preparation {
        serde_json::from_str(&format!(
            r#"{{"kind":"extract","sample":"019ca869-5003-7d46-b59c-6cf85cca57e5",
            "at":"2026-03-01T08:00:00Z"{more}}}"#
        ))
        .unwrap()
    }

    #[test]
    fn a_centrifuge_is_filled_only_where_one_was_used() {
        let filtered = bench().fill_preparation(extract(r#","clarification":"filter""#));
        assert_eq!(filtered.equipment, [bench().shaker.unwrap()]);
        let spun = bench().fill_preparation(extract(r#","clarification":"centrifuge""#));
        assert_eq!(
            spun.equipment,
            [bench().shaker.unwrap(), bench().centrifuge.unwrap()]
        );
        assert_eq!(spun.liquids, bench().liquids);
    }

    #[test]
    fn the_only_pipette_is_named_where_it_is_not_too_large() {
        let bench: Bench =
            serde_json::from_str(r#"{"pipettes":["019ca869-5003-7d46-b59c-6cf85cca5704"]}"#)
                .unwrap();
        let entry: RunEntry = serde_json::from_str(include_str!("runs/example.json")).unwrap();
        let named = |smallest: u32| {
            let too_large = |_, volume: Number| volume.0 < smallest.into();
            bench.fill_run(entry.clone(), too_large).dilution[0].pipette
        };
        assert_eq!(named(100), Some(bench.pipettes[0]));
        assert_eq!(named(101), None, "100 µL are too little for it");
    }

    #[test]
    fn what_was_given_stays() {
        let given = extract(
            r#","equipment":["019ca869-5003-7d46-b59c-6cf85cca5709"],
            "liquids":[{"name":"buffer","lot":"B-1","volume_ml":"50"}]"#,
        );
        assert_eq!(bench().fill_preparation(given.clone()), given);
    }

    #[test]
    fn time_zones_are_iana_names() {
        let site = |time_zone: &str| Site {
            code: "G".into(),
            name: "Gate".into(),
            address: None,
            time_zone: time_zone.into(),
            bench: Bench::default(),
        };
        for good in [
            "UTC",
            "Europe/Berlin",
            "America/Argentina/Buenos_Aires",
            "Etc/GMT+3",
        ] {
            assert!(site(good).check().is_ok(), "{good}");
        }
        for bad in [
            "",
            "CET+1",
            "+01:00",
            "Europe/",
            "Europe/Atlantis",
            "europe/ber lin",
        ] {
            assert!(site(bad).check().is_err(), "{bad}");
        }
    }
}
