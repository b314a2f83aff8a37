//! Recorded figures computed again, and compared.
//!
//! Promises that figures out of floating point agree to one in their sixth significant figure, and
//! everything else exactly; refuses a run whose reading is not what stands beside it.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use serde::Serialize;
use serde_json::Value;

use super::yearly::{report, reviewed_on};
use super::{RULES, ScreeningReview, ScreeningValidation, StudyDetermination, read_by_run};
use crate::analytes::Analyte;
use crate::id::RunId;
use crate::procedures::Procedure;
use crate::quantity::Concentration;
use crate::runs::Run;

/// What a recorded validation or review names, as far as it is needed to compute it again.
#[derive(Debug, Default)]
pub struct NamedBeside<'a> {
    /// The validation: the reviewed one, or the one that a study builds on.
    pub validation: Option<&'a ScreeningValidation>,
    /// Earlier reviews.
    pub reviews: Vec<&'a ScreeningReview>,
    /// The procedure.
    pub procedure: Option<&'a Procedure>,
    /// Runs.
    pub runs: BTreeMap<RunId, &'a Run>,
}

impl NamedBeside<'_> {
    /// That each named run reads what is stated.
    fn read_as_stated<'d>(
        &self,
        analyte: Analyte,
        determinations: impl Iterator<Item = &'d StudyDetermination>,
    ) -> Result<(), String> {
        let range = self.procedure.and_then(|one| one.entry.range_of(analyte));
        let lod: Option<Concentration> = range.map(|range| range.lod);
        for one in determinations {
            let Some(run) = one.run else { continue };
            let recorded = self.runs.get(&run);
            let recorded = recorded.ok_or_else(|| format!("it names no version of run {run}"))?;
            let read = read_by_run(recorded, analyte, lod)
                .map_err(|fault| format!("run {run}: {fault}"))?;
            if !read.is_stated_by(one) {
                let (read, stated) = (read.shown(), one.shown());
                return Err(format!("run {run} read {read}, and {stated} stands here"));
            }
        }
        Ok(())
    }
}

impl ScreeningValidation {
    /// Computes the figures again and compares; false where none are recorded.
    ///
    /// # Errors
    /// What differs, or what is missing for computing it, in words.
    ///
    /// ```
    /// use domain::screening_validations::{NamedBeside, ScreeningAdoption, ScreeningValidation};
    /// let draft = ScreeningValidation::draft(serde_json::from_str(include_str!("example.json"))?)?;
    /// assert_eq!(draft.again(&NamedBeside::default()), Ok(false));
    /// let adoption = ScreeningAdoption { on: "2026-03-09".parse()?,
    ///     by: "019ca869-5003-7d46-b59c-6cf85cca57e6".parse()? };
    /// let mut adopted = draft.adopt(adoption, None, vec![])?;
    /// assert_eq!(adopted.again(&NamedBeside::default()), Ok(true));
    /// adopted.report.as_mut().unwrap().cut_off = "15".parse()?;
    /// assert!(adopted.again(&NamedBeside::default()).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn again(&self, beside: &NamedBeside<'_>) -> Result<bool, String> {
        let Some(said) = &self.report else {
            return match self.rules {
                Some(_) => Err("it has a number of rules, and no figures".to_owned()),
                None => Ok(false),
            };
        };
        if self.rules != Some(RULES) {
            return Err(format!("there are no rules {:?} for it", self.rules));
        }
        let determinations = self.entry.determinations.iter();
        beside.read_as_stated(self.entry.analyte, determinations)?;
        let computed = self.entry.report(beside.validation);
        let computed = computed.map_err(|error| error.to_string())?;
        same(&computed, said).map(|()| true)
    }
}

impl ScreeningReview {
    /// Computes the review again and compares.
    ///
    /// # Errors
    /// What differs, or what is missing for computing it, in words.
    pub fn again(&self, beside: &NamedBeside<'_>) -> Result<(), String> {
        if self.rules != RULES {
            return Err(format!("there are no rules {} for it", self.rules));
        }
        let validation = beside.validation;
        let validation = &validation
            .ok_or("it names no version of its validation")?
            .entry;
        let determinations = self.joined.iter().map(|one| &one.determination);
        beside.read_as_stated(validation.analyte, determinations)?;
        if reviewed_on(validation, &beside.reviews) != Some(self.reviewed_on) {
            return Err("the review before it was on another day".to_owned());
        }
        let days = (self.reviewed_on, self.on);
        let computed = report(validation, &beside.reviews, &self.joined, days);
        let computed = computed.map_err(|error| error.to_string())?;
        same(&computed, &self.report)
    }
}

/// That two reports say the same.
fn same(computed: &impl Serialize, said: &impl Serialize) -> Result<(), String> {
    let value = |one: serde_json::Result<Value>| one.map_err(|error| error.to_string());
    let computed = value(serde_json::to_value(computed))?;
    let said = value(serde_json::to_value(said))?;
    let mut pointers = Vec::new();
    differing(&computed, &said, "", &mut pointers);
    if pointers.is_empty() {
        Ok(())
    } else {
        Err(format!(
            "computed again, it differs in {}",
            pointers.join(", ")
        ))
    }
}

fn differing(computed: &Value, said: &Value, path: &str, found: &mut Vec<String>) {
    match (computed, said) {
        (Value::Object(ours), Value::Object(theirs)) => {
            let mut names: Vec<&String> = ours.keys().chain(theirs.keys()).collect();
            names.sort_unstable();
            names.dedup();
            for name in names {
                let at = format!("{path}/{name}");
                match (ours.get(name), theirs.get(name)) {
                    (Some(one), Some(other)) => differing(one, other, &at, found),
                    (Some(_), None) | (None, Some(_)) | (None, None) => found.push(at),
                }
            }
        }
        (Value::String(ours), Value::String(theirs)) if agree(ours, theirs) => {}
        (ours, theirs) if ours == theirs => {}
        _ => found.push(path.to_owned()),
    }
}

/// Whether two numbers agree to one in the sixth significant figure.
fn agree(ours: &str, theirs: &str) -> bool {
    let (Ok(ours), Ok(theirs)) = (ours.parse::<Decimal>(), theirs.parse::<Decimal>()) else {
        return false;
    };
    let apart = ours.checked_sub(theirs).map(|apart| apart.abs());
    let hundred_thousand = Decimal::from(100_000);
    apart
        .and_then(|apart| apart.checked_mul(hundred_thousand))
        .is_some_and(|apart| apart <= ours.abs().max(theirs.abs()))
}
