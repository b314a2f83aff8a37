//! Holds for the kit lot, its packets, the curve and matrix, and the liquids that were used.

use super::super::{HoldDraft, HoldKind, RunFacts};
use crate::kit_lots::{KitLot, KitLotState};
use crate::runs::Run;
use crate::samples::Purpose;

pub(super) fn evaluate(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    match facts.kit_lot {
        Some(lot) => known_lot(run, facts, lot, drafts),
        None => {
            let detail = match run.entry.kit_lot_code.as_deref() {
                Some(code) => format!("kit lot \"{code}\" is not recorded here"),
                None => "the run names no kit lot".to_owned(),
            };
            drafts.push(HoldDraft::new(HoldKind::KitLotUnknown, detail));
        }
    }
    for step in facts.chain.steps() {
        let day = facts.local_day(step.at);
        for liquid in &step.liquids {
            if let Some(last) = liquid.expires_on.filter(|last| *last < day) {
                let (name, lot) = (&liquid.name, &liquid.lot);
                let detail = format!("{name} lot {lot} expired on {last}; used on {day}");
                drafts.push(HoldDraft::new(HoldKind::ReagentExpired, detail));
            }
        }
    }
}

fn known_lot(run: &Run, facts: &RunFacts<'_>, lot: &KitLot, drafts: &mut Vec<HoldDraft>) {
    let code = &lot.entry.code;
    let mut hold = |kind, detail: String| drafts.push(HoldDraft::new(kind, detail));
    if let Some(read) = run.entry.kit_lot_code.as_ref().filter(|read| *read != code) {
        let detail = format!("the run names kit lot {code}; \"{read}\" was read");
        hold(HoldKind::KitLotMismatch, detail);
    }
    if run
        .entry
        .procedure
        .is_some_and(|used| used != lot.entry.procedure)
    {
        let detail = format!("kit lot {code} is used by another procedure than the run's");
        hold(HoldKind::KitLotMismatch, detail);
    }
    if let Some(day) = run.entry.read_at.map(|at| facts.local_day(at)) {
        if lot.entry.expires_on < day {
            let last = lot.entry.expires_on;
            let detail = format!("kit lot {code} expired on {last}; used on {day}");
            hold(HoldKind::KitLotExpired, detail);
        }
        for packet in &lot.entry.packets {
            if let Some(last) = packet.expires_on.filter(|last| *last < day) {
                let (what, packet_lot) = (&packet.what, &packet.lot);
                let detail = format!("{what} lot {packet_lot} expired on {last}; used on {day}");
                hold(HoldKind::ReagentExpired, detail);
            }
        }
    }
    for receipt in lot
        .entry
        .receipts
        .iter()
        .filter(|receipt| !receipt.storage_kept)
    {
        let on = receipt.received_on;
        let detail = format!("kit lot {code} received on {on} was kept outside its storage");
        hold(HoldKind::KitLotStorage, detail);
    }
    if !accepted(lot.state, facts.sample.map(|sample| sample.purpose)) {
        let detail = format!("kit lot {code} is {}", lot.state.word());
        hold(HoldKind::KitLotNotAccepted, detail);
    }
    curve(run, facts, lot, drafts);
}

/// An exhausted lot was accepted once; a lot in quarantine is run to be accepted.
fn accepted(state: KitLotState, purpose: Option<Purpose>) -> bool {
    match state {
        KitLotState::Accepted | KitLotState::Exhausted => true,
        KitLotState::Quarantined => purpose == Some(Purpose::KitAcceptance),
        KitLotState::Rejected | KitLotState::Recalled => false,
    }
}

fn curve(run: &Run, facts: &RunFacts<'_>, lot: &KitLot, drafts: &mut Vec<HoldDraft>) {
    let (code, due) = (&lot.entry.code, &lot.entry.curve_lot);
    let matrix = run.entry.matrix.as_deref();
    match (
        run.entry.curve_lot.as_ref(),
        facts.reader,
        run.entry.read_at,
    ) {
        (Some(used), _, _) if used != due => {
            let detail = format!("kit lot {code} has curve {due}; the reader used {used}");
            drafts.push(HoldDraft::new(HoldKind::CurveMismatch, detail));
        }
        // A reader whose curves are recorded must have had it; of others nothing is known.
        (None, Some(reader), Some(read_at))
            if !reader.curves.is_empty() && !reader.had_curve(due, matrix, read_at) =>
        {
            let serial = &reader.serial;
            let detail = format!("curve {due} of kit lot {code} was not loaded in reader {serial}");
            drafts.push(HoldDraft::new(HoldKind::CurveMismatch, detail));
        }
        (Some(_) | None, Some(_) | None, Some(_) | None) => {}
    }
    if let Some(used) = matrix.filter(|used| !lot.entry.matrices.iter().any(|one| one == used)) {
        let known = lot.entry.matrices.join(", ");
        let detail = format!("kit lot {code} knows {known}; the reader used {used}");
        drafts.push(HoldDraft::new(HoldKind::MatrixMismatch, detail));
    }
}
