//! What is wrong with a procedure that was handed in.

use std::collections::BTreeSet;

use rust_decimal::Decimal;

use super::{AnalyteRange, PrecisionModel, ProcedureEntry, ScreeningCutOff, Tolerances};
use crate::analytes::Analyte;
use crate::dilution::check_steps;
use crate::entries;
use crate::faults::Faults;
use crate::quantity::Number;

impl ProcedureEntry {
    /// Every fault of the entry, with JSON pointers into it.
    ///
    /// # Errors
    /// The faults.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        entries::code(&mut faults, "/code", &self.code);
        entries::text(&mut faults, "/title", &self.title, entries::NAME_LENGTH);
        let revision = &self.kit_instructions_revision;
        entries::text(
            &mut faults,
            "/kit_instructions_revision",
            revision,
            entries::NAME_LENGTH,
        );
        faults.require(!self.commodities.is_empty(), "/commodities", || {
            "a procedure is validated for at least one commodity".to_owned()
        });
        entries::slugs(&mut faults, "/commodities", &self.commodities);
        self.check_analytes(&mut faults);
        self.check_dilutions(&mut faults);
        faults.nest("/tolerances", self.tolerances.check());
        if let Err(error) = self.rounding.apply(Decimal::ONE) {
            faults.add("/rounding", error.to_string());
        }
        for (model, pointer) in [
            (&self.repeatability, "/repeatability"),
            (&self.precision, "/precision"),
        ] {
            if let Some(model) = model {
                faults.nest(pointer, model.check());
            }
        }
        faults.require(
            self.controls.maximum_runs_between != Some(0),
            "/controls/maximum_runs_between",
            || "no run could stand between two control runs: give 1 or more".to_owned(),
        );
        self.check_screening(&mut faults);
        self.check_bias(&mut faults);
        self.check_recoveries(&mut faults);
        self.check_kit_lot_acceptance(&mut faults);
        faults.into_result()
    }

    fn check_analytes(&self, faults: &mut Faults) {
        faults.require(!self.analytes.is_empty(), "/analytes", || {
            "a procedure measures at least one analyte".to_owned()
        });
        let mut seen = BTreeSet::new();
        for (place, range) in self.analytes.iter().enumerate() {
            let pointer = format!("/analytes/{place}");
            faults.nest(&pointer, range.check());
            faults.require(
                seen.insert(range.analyte),
                format!("{pointer}/analyte"),
                || format!("{} has a range already", range.analyte),
            );
        }
    }

    fn check_dilutions(&self, faults: &mut Faults) {
        for (place, scheme) in self.dilutions.iter().enumerate() {
            let pointer = format!("/dilutions/{place}/steps");
            faults.require(!scheme.steps.is_empty(), pointer.as_str(), || {
                "a dilution has at least one step".to_owned()
            });
            faults.nest(&pointer, check_steps(&scheme.steps));
            for (step_place, step) in scheme.steps.iter().enumerate() {
                faults.require(
                    step.pipette.is_none() && step.diluent_pipette.is_none(),
                    format!("{pointer}/{step_place}/pipette"),
                    || "a procedure names no pipette: the run does".to_owned(),
                );
            }
        }
    }

    /// That an analyte is measured, and named once; `what` it has.
    fn check_analyte(
        &self,
        faults: &mut Faults,
        pointer: &str,
        analyte: Analyte,
        is_first: bool,
        what: &str,
    ) {
        faults.require(is_first, pointer, || {
            format!("{analyte} has {what} already")
        });
        faults.require(self.range_of(analyte).is_some(), pointer, || {
            format!("{analyte} is not among the procedure's analytes")
        });
    }

    fn check_bias(&self, faults: &mut Faults) {
        let mut seen = BTreeSet::new();
        for (place, shown) in self.bias.iter().enumerate() {
            let pointer = format!("/bias/{place}");
            let analyte = format!("{pointer}/analyte");
            let is_first = seen.insert(shown.analyte);
            self.check_analyte(faults, &analyte, shown.analyte, is_first, "a bias");
            faults.require(
                shown.mean_found.ug_per_kg() > Decimal::ZERO,
                format!("{pointer}/mean_found"),
                || "a mean of what was found is above zero".to_owned(),
            );
            faults.require(
                shown.standard_deviation.ug_per_kg() >= Decimal::ZERO,
                format!("{pointer}/standard_deviation"),
                || "a standard deviation is not negative".to_owned(),
            );
            faults.require(
                shown.determinations > 0,
                format!("{pointer}/determinations"),
                || "at least one determination shows a bias".to_owned(),
            );
        }
    }

    fn check_recoveries(&self, faults: &mut Faults) {
        let mut seen = BTreeSet::new();
        for (place, one) in self.recoveries.iter().enumerate() {
            let pointer = format!("/recoveries/{place}");
            let analyte = format!("{pointer}/analyte");
            let is_first = seen.insert(one.analyte);
            self.check_analyte(faults, &analyte, one.analyte, is_first, "a recovery");
            faults.require(
                one.recovery.0 > Decimal::ZERO && one.recovery.0 <= Decimal::TWO,
                format!("{pointer}/recovery"),
                || {
                    format!(
                        "{} is no fraction that is recovered: 0.85 is 85 %",
                        one.recovery
                    )
                },
            );
            faults.require(
                one.standard_uncertainty.0 >= Decimal::ZERO,
                format!("{pointer}/standard_uncertainty"),
                || "a standard uncertainty is not negative".to_owned(),
            );
        }
    }

    fn check_kit_lot_acceptance(&self, faults: &mut Faults) {
        let mut seen = BTreeSet::new();
        for (place, one) in self.kit_lot_acceptance.iter().enumerate() {
            let pointer = format!("/kit_lot_acceptance/{place}");
            let analyte = format!("{pointer}/analyte");
            let is_first = seen.insert(one.analyte);
            self.check_analyte(faults, &analyte, one.analyte, is_first, "a criterion");
            faults.require(
                one.largest_difference.is_some() || one.largest_fraction.is_some(),
                pointer.as_str(),
                || "give the largest difference, as an amount, as a fraction, or both".to_owned(),
            );
            let amount = one.largest_difference.map(|one| Number(one.ug_per_kg()));
            let at = |member: &str| format!("{pointer}/{member}");
            entries::positive(faults, &at("largest_difference"), amount, "µg/kg");
            entries::positive(faults, &at("largest_fraction"), one.largest_fraction, "");
            faults.require(one.minimum_pairs >= 2, at("minimum_pairs"), || {
                "fewer than two pairs do not scatter: give 2 or more".to_owned()
            });
        }
    }

    fn check_screening(&self, faults: &mut Faults) {
        let mut seen = BTreeSet::new();
        for (place, screening) in self.screening.iter().enumerate() {
            let pointer = format!("/screening/{place}");
            faults.nest(&pointer, screening.check());
            let analyte = format!("{pointer}/analyte");
            let is_first = seen.insert(screening.analyte);
            self.check_analyte(faults, &analyte, screening.analyte, is_first, "a cut-off");
        }
    }
}

impl AnalyteRange {
    /// Whether the range can be measured in: 0 ≤ LOD ≤ LOQ < upper end.
    ///
    /// # Errors
    /// The faults.
    ///
    /// ```
    /// use domain::procedures::AnalyteRange;
    /// let range = |upper: &str| serde_json::from_str::<AnalyteRange>(&format!(
    ///     r#"{{"analyte":"zearalenone","lod":"10","loq":"25","upper":"{upper}"}}"#)).unwrap();
    /// assert!(range("500").check().is_ok());
    /// assert!(range("25").check().is_err());
    /// ```
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        faults.require(self.lod.ug_per_kg() >= Decimal::ZERO, "/lod", || {
            format!("a limit of detection is not negative: {}", self.lod)
        });
        faults.require(self.loq >= self.lod, "/loq", || {
            format!("{} is below the limit of detection, {}", self.loq, self.lod)
        });
        faults.require(self.loq.ug_per_kg() > Decimal::ZERO, "/loq", || {
            "a limit of quantification is above zero".to_owned()
        });
        faults.require(self.upper > self.loq, "/upper", || {
            format!(
                "{} is not above the limit of quantification, {}",
                self.upper, self.loq
            )
        });
        faults.into_result()
    }
}

impl ScreeningCutOff {
    /// Whether it can be decided by: above zero, and not above its target.
    ///
    /// # Errors
    /// The faults.
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let cut_off = self.cut_off;
        faults.require(cut_off.ug_per_kg() > Decimal::ZERO, "/cut_off", || {
            "a cut-off is above zero".to_owned()
        });
        let target = self.target.is_none_or(|target| target >= cut_off);
        faults.require(target, "/target", || {
            format!("lies below the cut-off, {cut_off}: a sample at the target would pass")
        });
        faults.into_result()
    }
}

impl PrecisionModel {
    /// Whether it can be a standard deviation: neither part negative, not both zero.
    ///
    /// # Errors
    /// The faults.
    ///
    /// ```
    /// use domain::procedures::PrecisionModel;
    /// let model = |text| serde_json::from_str::<PrecisionModel>(text).unwrap();
    /// assert!(model(r#"{"constant":"0.5","proportional":"0.08"}"#).check().is_ok());
    /// let percent = model(r#"{"constant":"0.5","proportional":"8"}"#);
    /// assert!(percent.check().is_err(), "8 % is 0.08");
    /// ```
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let constant = self.constant.ug_per_kg();
        faults.require(constant >= Decimal::ZERO, "/constant", || {
            format!("a standard deviation is not negative: {constant}")
        });
        let proportional = self.proportional.0;
        faults.require(proportional >= Decimal::ZERO, "/proportional", || {
            format!("a standard deviation is not negative: {proportional}")
        });
        faults.require(proportional <= Decimal::ONE, "/proportional", || {
            format!("{proportional} is a fraction of the value, and above 1: 0.08 is 8 %")
        });
        faults.require(!(constant.is_zero() && proportional.is_zero()), "", || {
            "no method repeats itself exactly: leave the member out if it is not known".into()
        });
        faults.into_result()
    }
}

impl Tolerances {
    /// Whether each limit that is given can be kept to, and none stands without what it is of.
    ///
    /// # Errors
    /// The faults.
    ///
    /// ```
    /// use domain::procedures::Tolerances;
    /// assert!(Tolerances::default().check().is_ok(), "what is absent limits nothing");
    /// let tolerances = serde_json::from_str::<Tolerances>(r#"{"read_tolerance_s":30}"#)?;
    /// assert!(tolerances.check().is_err(), "30 s from what?");
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn check(&self) -> Result<(), Faults> {
        let mut faults = Faults::default();
        let numbers: [(Option<Number>, &str); 7] = [
            (self.minimum_ground_mass_g, "/minimum_ground_mass_g"),
            (self.test_portion_mass_g, "/test_portion_mass_g"),
            (self.test_portion_tolerance_g, "/test_portion_tolerance_g"),
            (self.liquid_parts_per_part, "/liquid_parts_per_part"),
            (self.liquid_tolerance_percent, "/liquid_tolerance_percent"),
            (self.minimum_filtrate_ml, "/minimum_filtrate_ml"),
            (self.minimum_centrifugate_ml, "/minimum_centrifugate_ml"),
        ];
        for (number, pointer) in numbers {
            if let Some(number) = number {
                faults.require(number.0 > Decimal::ZERO, pointer, || {
                    format!("{number} limits nothing: give a value above zero, or leave it out")
                });
            }
        }
        for (part, pointer, whole, name) in [
            (
                self.test_portion_tolerance_g.is_some(),
                "/test_portion_tolerance_g",
                self.test_portion_mass_g.is_some(),
                "test_portion_mass_g",
            ),
            (
                self.liquid_tolerance_percent.is_some(),
                "/liquid_tolerance_percent",
                self.liquid_parts_per_part.is_some(),
                "liquid_parts_per_part",
            ),
            (
                self.read_tolerance_s.is_some(),
                "/read_tolerance_s",
                self.read_after_s.is_some(),
                "read_after_s",
            ),
        ] {
            faults.require(!part || whole, pointer, || {
                format!("is a tolerance of {name}, which is missing")
            });
        }
        faults.into_result()
    }
}
