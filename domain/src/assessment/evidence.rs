//! What is recorded of a result's dilution, masses and bias, as its budget takes it.
//!
//! Promises that every version that is looked at is named, and that what is chosen among several
//! is chosen again from the named ones alone: of pipettes that deliver a volume the smallest.
//! Where no pipette, cylinder or balance is recorded, or nothing of its limits, a standard's limit
//! for that volume, or the procedure's own tolerance, stands in its place, and the line says so.
//! Refuses volumes beyond every table: then no budget is made up.
//!
//! Of several runs that a result stands on, the first that was read stands for all: what standards
//! allow a piece of equipment does not shrink with the runs.

mod lot;
mod standards;
#[cfg(test)]
mod tests;

use std::fmt;

use rust_decimal::Decimal;

use super::{Dossier, SharedFacts};
use crate::analytes::Analyte;
use crate::dilution::DilutionStep;
use crate::equipment::{Equipment, EquipmentKind};
use crate::id::{EquipmentId, RunId};
use crate::preparations::{Preparation, PreparationKind};
use crate::procedures::ProcedureEntry;
use crate::quantity::Number;
use crate::results::{BudgetEvidence, BudgetSource, Facts, LotTest, Pipette};
use crate::runs::RunEntry;
use crate::uncertainty::bias::BiasEvidence;
use crate::uncertainty::dilution::{DeliveredVolume, DilutedBy, UncertainStep};
use crate::uncertainty::of_result::WeighedMass;
use crate::versions::SubjectVersion;
use standards::{by_balance, by_cylinder, by_pipette, in_microlitres, millilitres};

/// What is recorded of one sample, and of what it shares with others.
pub(super) struct Evidence<'a> {
    pub(super) shared: &'a dyn SharedFacts,
    pub(super) dossier: &'a Dossier<'a>,
    pub(super) procedure: Option<&'a ProcedureEntry>,
    pub(super) analyte: Analyte,
    /// Of the sample's site.
    pub(super) pipettes: &'a [Pipette<'a>],
}

impl fmt::Debug for Evidence<'_> {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sample = self.dossier.sample.source;
        formatter.debug_tuple("Evidence").field(&sample).finish()
    }
}

impl BudgetSource for Evidence<'_> {
    fn evidence(&self, run: RunId, from: &mut Vec<SubjectVersion>) -> Option<BudgetEvidence> {
        let mut runs = self.dossier.runs.iter();
        let run = runs.find(|recorded| recorded.id() == run)?.run;
        let entry = &run.entry;
        let mut evidence = BudgetEvidence {
            bias: self.bias(from),
            corrected_recovery: self
                .procedure
                .and_then(|procedure| procedure.recovery_of(self.analyte))
                .map(|one| (one.recovery, one.standard_uncertainty)),
            dilution: Vec::with_capacity(entry.dilution.len()),
            ..BudgetEvidence::default()
        };
        for step in &entry.dilution {
            let step = self.step(step, &run.pipettes_at_hand, from)?;
            evidence.dilution.push(step);
        }
        if let Some(extract) = self.extract_of(entry, from) {
            evidence.liquid = self.liquid(extract.content, from)?;
            let portion = extract.content.parent;
            let portion = portion.and_then(|id| self.dossier.preparation(id));
            if let Some(portion) =
                portion.filter(|one| one.content.kind == PreparationKind::TestPortion)
            {
                from.push(portion.source);
                evidence.test_portion = self.mass(portion.content, from)?;
            }
        }
        Some(evidence)
    }

    fn lot_test(&self, run: RunId, from: &mut Vec<SubjectVersion>) -> Option<LotTest> {
        self.test_of_lot(run, from)
    }
}

impl Evidence<'_> {
    /// What the procedure's validation showed on control material, where the material says how
    /// sure its value is: the outer nothing of a blank and of a value without doubt.
    fn bias(&self, from: &mut Vec<SubjectVersion>) -> Option<BiasEvidence> {
        let shown = self.procedure?.bias_of(self.analyte)?;
        let material = self.shared.control_material(shown.control_material)?;
        from.push(material.source);
        let mut assigned = material.content.analytes.iter();
        let assigned = assigned.find(|one| one.analyte == self.analyte)?;
        let factor = assigned.coverage_factor.map_or(Decimal::TWO, |one| one.0);
        let expanded = assigned.expanded_uncertainty?.ug_per_kg();
        (assigned.assigned_value.ug_per_kg() > Decimal::ZERO).then_some(BiasEvidence {
            mean_found: Number(shown.mean_found.ug_per_kg()),
            standard_deviation: Number(shown.standard_deviation.ug_per_kg()),
            determinations: shown.determinations,
            assigned_value: Number(assigned.assigned_value.ug_per_kg()),
            assigned_standard_uncertainty: Number(expanded.checked_div(factor)?),
            corrected: false,
        })
    }

    /// The extract that a run names; where it names none, as in an export, the sample's only one.
    fn extract_of(
        &self,
        entry: &RunEntry,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<Facts<'_, Preparation>> {
        if let Some(id) = entry.extract {
            let named = self.dossier.preparation(id)?;
            from.push(named.source);
            return Some(named);
        }
        let steps = self.dossier.preparations.iter();
        let mut extracts = steps.filter(|one| one.content.kind == PreparationKind::Extract);
        // All of them are looked at: with another one it would not be the only one.
        from.extend(extracts.clone().map(|one| one.source));
        match (extracts.next(), extracts.next()) {
            (Some(only), None) => Some(*only),
            (_, _) => None,
        }
    }

    fn step(
        &self,
        step: &DilutionStep,
        stood: &[EquipmentId],
        from: &mut Vec<SubjectVersion>,
    ) -> Option<UncertainStep> {
        let diluent_pipette = step.diluent_pipette.or(step.pipette);
        let diluent = step.diluent_volume_ul;
        Some(UncertainStep {
            sample: self.delivered(step.pipette, stood, step.sample_volume_ul, from)?,
            with: DilutedBy::Diluent(self.delivered(diluent_pipette, stood, diluent, from)?),
        })
    }

    /// A volume with the limits of the pipette that is named, else of one that stands there.
    fn delivered(
        &self,
        named: Option<EquipmentId>,
        stood: &[EquipmentId],
        volume_ul: Number,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<DeliveredVolume> {
        let named = named.and_then(|id| self.shared.equipment(id));
        let used = named.or_else(|| self.at_hand(stood, volume_ul, from));
        from.extend(used.map(|one| one.source));
        let doubts = by_pipette(used.map(|one| one.content), named.is_some(), volume_ul)
            .or_else(|| by_cylinder(None, millilitres(volume_ul)?, "in mL").map(in_microlitres))?;
        Some(DeliveredVolume {
            volume: volume_ul,
            doubts,
        })
    }

    /// The smallest pipette that delivers a volume: of those that stood there when the run was
    /// recorded, where the run keeps them; else of the bench, else of the site.
    fn at_hand(
        &self,
        stood: &[EquipmentId],
        volume_ul: Number,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<Facts<'_, Equipment>> {
        let smallest = |pipettes: &mut dyn Iterator<Item = EquipmentId>| {
            pipettes
                .filter_map(|id| self.shared.equipment(id))
                .filter(|one| one.content.delivers(volume_ul))
                .min_by_key(|one| (one.content.largest_volume_ul(), one.source.subject))
        };
        if !stood.is_empty() {
            return smallest(&mut stood.iter().copied());
        }
        let site = self.dossier.sample.content.site;
        let site = site.and_then(|id| self.shared.site(id));
        let bench = site.filter(|site| !site.content.bench.pipettes.is_empty());
        from.extend(bench.map(|site| site.source));
        let of_bench = bench.map(|site| site.content.bench.pipettes.iter().copied());
        of_bench
            .and_then(|mut pipettes| smallest(&mut pipettes))
            .or_else(|| smallest(&mut self.pipettes.iter().map(|pipette| pipette.id)))
    }

    /// The first piece of a kind among what a step used.
    fn used(
        &self,
        step: &Preparation,
        kind: EquipmentKind,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<&Equipment> {
        let used = step.equipment.iter();
        let mut known = used.filter_map(|id| self.shared.equipment(*id));
        let found = known.find(|one| one.content.kind == kind)?;
        from.push(found.source);
        Some(found.content)
    }

    /// The extraction liquid; the outer nothing where no table has so large a volume.
    fn liquid(
        &self,
        extract: &Preparation,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<Option<DeliveredVolume>> {
        let volumes: Vec<Number> = extract
            .liquids
            .iter()
            .filter_map(|liquid| liquid.volume_ml)
            .filter(|volume| volume.0 > Decimal::ZERO)
            .collect();
        if volumes.is_empty() {
            return Some(None);
        }
        let cylinder = self.used(extract, EquipmentKind::Cylinder, from);
        let mut whole = Decimal::ZERO;
        let mut doubts = Vec::with_capacity(volumes.len());
        for volume in volumes {
            whole = whole.checked_add(volume.0)?;
            doubts.extend(by_cylinder(cylinder, volume, "in mL")?);
        }
        Some(Some(DeliveredVolume {
            volume: Number(whole),
            doubts,
        }))
    }

    /// The test portion; the outer nothing where its mass cannot be looked up.
    fn mass(
        &self,
        portion: &Preparation,
        from: &mut Vec<SubjectVersion>,
    ) -> Option<Option<WeighedMass>> {
        let Some(mass_g) = portion.mass_g.filter(|mass| mass.0 > Decimal::ZERO) else {
            return Some(None);
        };
        let balance = self.used(portion, EquipmentKind::Balance, from);
        let tolerance = self
            .procedure
            .and_then(|procedure| procedure.tolerances.test_portion_tolerance_g);
        Some(Some(WeighedMass {
            mass_g,
            doubts: vec![by_balance(balance, tolerance, mass_g)?],
        }))
    }
}
