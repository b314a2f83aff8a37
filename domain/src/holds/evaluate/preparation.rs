//! Holds for the preparation of the sample, against the procedure's tolerances.
//!
//! What the procedure does not limit is not asked for.

use rust_decimal::Decimal;

use super::super::{HoldDraft, HoldKind, RunFacts};
use crate::preparations::{Clarification, Preparation, PreparationKind};
use crate::procedures::Tolerances;
use crate::quantity::Number;
use crate::runs::Run;

pub(super) fn evaluate(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    let Some(procedure) = facts.procedure else {
        return;
    };
    let mut check = Check {
        tolerances: &procedure.entry.tolerances,
        drafts,
    };
    check.ground_sample(facts.chain.ground_sample);
    check.test_portion(facts.chain.test_portion);
    check.extract(facts.chain.extract);
    check.liquid(facts.chain.test_portion, facts.chain.extract);
    check.age(run, facts.chain.extract);
}

struct Check<'a> {
    tolerances: &'a Tolerances,
    drafts: &'a mut Vec<HoldDraft>,
}

impl Check<'_> {
    fn out(&mut self, detail: String) {
        self.drafts
            .push(HoldDraft::new(HoldKind::PreparationOutOfTolerance, detail));
    }

    fn missing(&mut self, detail: String) {
        self.drafts
            .push(HoldDraft::new(HoldKind::PreparationMissing, detail));
    }

    fn no_step(&mut self, kind: PreparationKind) {
        self.missing(format!("no {} is recorded for the run", kind.name()));
    }

    /// Holds an amount that is missing or below the least one.
    fn least(&mut self, what: &str, amount: Option<Number>, least: Option<Number>, unit: &str) {
        match (amount, least) {
            (Some(amount), Some(least)) if amount.0 < least.0 => {
                self.out(format!("{what}: {amount} {unit}; at least {least} {unit}"));
            }
            (None, Some(least)) => {
                self.missing(format!("{what} is not recorded; at least {least} {unit}"));
            }
            (Some(_), Some(_)) | (Some(_) | None, None) => {}
        }
    }

    fn ground_sample(&mut self, step: Option<&Preparation>) {
        let least = self.tolerances.minimum_ground_mass_g;
        match step {
            Some(step) => self.least("mass ground", step.mass_g, least, "g"),
            None if least.is_some() => self.no_step(PreparationKind::GroundSample),
            None => {}
        }
    }

    fn test_portion(&mut self, step: Option<&Preparation>) {
        let limits = self.tolerances;
        let Some(due) = limits.test_portion_mass_g else {
            if step.is_none() && limits.liquid_parts_per_part.is_some() {
                self.no_step(PreparationKind::TestPortion);
            }
            return;
        };
        match step.map(|step| step.mass_g) {
            None => self.no_step(PreparationKind::TestPortion),
            Some(None) => self.missing(format!("mass of the test portion; {due} g is due")),
            Some(Some(mass)) => {
                let Some(tolerance) = limits.test_portion_tolerance_g else {
                    return;
                };
                let off = mass.0.checked_sub(due.0).map(|off| off.abs());
                if off.is_none_or(|off| off > tolerance.0) {
                    self.out(format!(
                        "test portion: {mass} g; {due} g within {tolerance} g"
                    ));
                }
            }
        }
    }

    fn extract(&mut self, step: Option<&Preparation>) {
        let limits = self.tolerances;
        let Some(step) = step else {
            let limited = limits.minimum_shaking_s.is_some()
                || limits.minimum_filtrate_ml.is_some()
                || limits.minimum_centrifugate_ml.is_some()
                || limits.maximum_extract_age_s.is_some()
                || limits.liquid_parts_per_part.is_some();
            if limited {
                self.no_step(PreparationKind::Extract);
            }
            return;
        };
        let seconds = |value: Option<u32>| value.map(|value| Number(value.into()));
        let shaken = seconds(step.shaking_s);
        self.least("shaking", shaken, seconds(limits.minimum_shaking_s), "s");
        let volume = step.clarified_volume_ml;
        match step.clarification {
            Some(Clarification::Filter) => {
                self.least("filtrate", volume, limits.minimum_filtrate_ml, "mL");
            }
            Some(Clarification::Centrifuge) => {
                self.least("centrifugate", volume, limits.minimum_centrifugate_ml, "mL");
            }
            None => {
                if limits
                    .minimum_filtrate_ml
                    .or(limits.minimum_centrifugate_ml)
                    .is_some()
                {
                    self.missing("how the extract was cleared is not recorded".to_owned());
                }
            }
        }
    }

    /// Liquid added against the mass of the test portion: so many mL for each g.
    fn liquid(&mut self, portion: Option<&Preparation>, extract: Option<&Preparation>) {
        let (Some(parts), Some(extract)) = (self.tolerances.liquid_parts_per_part, extract) else {
            return;
        };
        let volumes: Option<Vec<Decimal>> = extract
            .liquids
            .iter()
            .map(|liquid| liquid.volume_ml.map(|volume| volume.0))
            .collect();
        let Some(volumes) = volumes.filter(|volumes| !volumes.is_empty()) else {
            return self.missing(format!("volume of the liquid; {parts} mL a g is due"));
        };
        let (Some(mass), Some(percent)) = (
            portion.and_then(|portion| portion.mass_g),
            self.tolerances.liquid_tolerance_percent,
        ) else {
            return;
        };
        let added = volumes
            .into_iter()
            .try_fold(Decimal::ZERO, Decimal::checked_add);
        let due = mass.0.checked_mul(parts.0);
        let within = (|| {
            let off = added?
                .checked_sub(due?)?
                .abs()
                .checked_mul(Decimal::ONE_HUNDRED)?;
            Some(off <= due?.checked_mul(percent.0)?)
        })();
        if within != Some(true) {
            let shown = |value: Option<Decimal>| match value {
                Some(value) => value.normalize().to_string(),
                None => "too much".to_owned(),
            };
            let (added, due) = (shown(added), shown(due));
            self.out(format!(
                "liquid: {added} mL; {due} mL within {percent} % of it"
            ));
        }
    }

    fn age(&mut self, run: &Run, extract: Option<&Preparation>) {
        let (Some(extract), Some(read_at)) = (extract, run.entry.read_at) else {
            return;
        };
        let Some(age) = extract.age_s(read_at) else {
            let at = extract.at;
            return self.out(format!(
                "extract finished at {at}, after the strip, read {read_at}"
            ));
        };
        let most = self.tolerances.maximum_extract_age_s;
        if let Some(most) = most.filter(|most| age > u64::from(*most)) {
            let detail = format!("the extract was {age} s old when read; at most {most} s");
            self.drafts
                .push(HoldDraft::new(HoldKind::ExtractTooOld, detail));
        }
    }
}
