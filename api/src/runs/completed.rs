//! What the laboratory knows of a run beyond what was entered: the things that it names by what is
//! printed on them, and what its site's bench has.
//!
//! Promises to change nothing that was entered.

use crate::results::{Dossier, Reference};
use domain::{
    equipment::EquipmentKind,
    id::{EquipmentId, KitLotId, PreparationId, ReaderId},
    preparations::PreparationKind,
    runs::{Run, RunContext, RunEntry},
};

/// How many ports the reader has, where it is known.
pub(super) fn context(reference: &Reference, entry: &RunEntry) -> RunContext {
    RunContext {
        ports: entry
            .reader
            .and_then(|id| reference.readers.get(&id.0))
            .map(|reader| reader.content.ports),
    }
}

/// Fills in what the laboratory knows: reader by serial, kit lot by its number, what the site's
/// bench has, the kit lot's procedure, the sample's newest extract before the reading.
pub(super) fn completed(
    reference: &Reference,
    dossier: Option<&Dossier>,
    mut entry: RunEntry,
) -> RunEntry {
    name_by_code(reference, &mut entry);
    let site = dossier.and_then(|one| one.sample.content.site);
    if let Some(site) = site.and_then(|id| reference.sites.get(&id.0)) {
        entry = site.content.bench.fill_run(entry, |pipette, volume| {
            let known = reference.equipment.get(&pipette.0);
            known.is_some_and(|one| one.content.is_too_large_for(volume))
        });
    }
    name_procedure(reference, &mut entry);
    let used_at = entry.begun_at.or(entry.read_at);
    if entry.extract.is_none()
        && let (Some(dossier), Some(used_at)) = (dossier, used_at)
    {
        entry.extract = dossier
            .preparations
            .iter()
            .filter(|(_, one)| one.content.kind == PreparationKind::Extract)
            .filter(|(_, one)| one.content.at <= used_at)
            .max_by_key(|(id, one)| (one.content.at, *id))
            .map(|(id, _)| PreparationId(*id));
    }
    entry
}

/// Keeps with a diluted run which pipettes stand where its sample was received: those of the bench,
/// and those of the site where the bench has none that delivers a volume; all of the laboratory's
/// where the site is not known.
pub(super) fn with_pipettes(reference: &Reference, dossier: Option<&Dossier>, run: Run) -> Run {
    let Some(dossier) = dossier.filter(|_| !run.factor.is_one()) else {
        return run;
    };
    let site = dossier.sample.content.site;
    let bench = site
        .and_then(|id| reference.sites.get(&id.0))
        .map_or(&[][..], |one| one.content.bench.pipettes.as_slice());
    let delivered = |volume| {
        let mut known = bench.iter().filter_map(|id| reference.equipment.get(&id.0));
        known.any(|one| one.content.delivers(volume))
    };
    let mut steps = run.entry.dilution.iter();
    let enough = steps.all(|step| {
        let diluent = step.diluent_pipette.or(step.pipette);
        (step.pipette.is_some() || delivered(step.sample_volume_ul))
            && (diluent.is_some() || delivered(step.diluent_volume_ul))
    });
    if enough {
        return run.with_pipettes(bench);
    }
    let of_site = reference
        .equipment
        .iter()
        .filter(|(_, one)| one.content.kind == EquipmentKind::Pipette)
        .filter(|(_, one)| {
            let at = one.content.site;
            site.is_none() || at.is_none() || at == site
        })
        .map(|(id, _)| EquipmentId(*id));
    let mut ids: Vec<_> = bench.iter().copied().chain(of_site).collect();
    ids.sort_unstable();
    ids.dedup();
    run.with_pipettes(&ids)
}

/// Fills in what a run names by what is printed on it: reader, kit lot, the kit lot's procedure.
pub(super) fn name_what_is_known(reference: &Reference, entry: &mut RunEntry) {
    name_by_code(reference, entry);
    name_procedure(reference, entry);
}

fn name_by_code(reference: &Reference, entry: &mut RunEntry) {
    if entry.reader.is_none()
        && let Some(serial) = &entry.reader_serial
    {
        entry.reader = reference.reader_serials.get(serial).copied().map(ReaderId);
    }
    if entry.kit_lot.is_none()
        && let Some(code) = &entry.kit_lot_code
    {
        entry.kit_lot = reference.kit_lot_codes.get(code).copied().map(KitLotId);
    }
}

fn name_procedure(reference: &Reference, entry: &mut RunEntry) {
    if entry.procedure.is_none() {
        entry.procedure = entry
            .kit_lot
            .and_then(|id| reference.kit_lots.get(&id.0))
            .map(|lot| lot.content.entry.procedure);
    }
}
