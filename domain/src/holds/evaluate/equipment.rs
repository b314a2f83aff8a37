//! Holds for the reader and for what else was used: overdue, failed, in doubt.

use chrono::NaiveDate;

use super::super::{HoldDraft, HoldKind, RunFacts, UsedEquipment};
use crate::equipment::{EquipmentKind, SuspectWindow};
use crate::readers::Reader;
use crate::runs::Run;
use crate::time::Moment;

pub(super) fn evaluate(run: &Run, facts: &RunFacts<'_>, drafts: &mut Vec<HoldDraft>) {
    match facts.reader {
        Some(reader) => known_reader(run, facts, reader, drafts),
        None => {
            let detail = match run.entry.reader_serial.as_deref() {
                Some(serial) => format!("reader \"{serial}\" is not recorded here"),
                None => "the run names no reader".to_owned(),
            };
            drafts.push(HoldDraft::new(HoldKind::ReaderUnknown, detail));
        }
    }
    let sieve = facts
        .procedure
        .is_some_and(|one| one.entry.requires_sieve_check);
    for used in facts.equipment {
        other_equipment(facts, used, sieve, drafts);
    }
    if sieve
        && facts.chain.ground_sample.is_some()
        && !facts
            .equipment
            .iter()
            .any(|used| used.equipment.kind == EquipmentKind::Grinder)
    {
        let detail = "the procedure asks for a grinder's sieve check; no grinder is named";
        drafts.push(HoldDraft::new(HoldKind::PreparationMissing, detail));
    }
}

/// What is asked of a reader and of any other equipment alike.
struct Condition<'a> {
    name: String,
    used_at: Moment,
    dues: [(&'static str, Option<NaiveDate>); 2],
    failed_since: Option<Moment>,
    suspect: &'a [SuspectWindow],
}

fn condition(facts: &RunFacts<'_>, asked: &Condition<'_>, drafts: &mut Vec<HoldDraft>) {
    let name = &asked.name;
    let day = facts.local_day(asked.used_at);
    for (what, due) in asked.dues {
        if let Some(due) = due.filter(|due| *due < day) {
            let detail = format!("{name}: {what} was due on {due}; used on {day}");
            drafts.push(HoldDraft::new(HoldKind::EquipmentOverdue, detail));
        }
    }
    if let Some(since) = asked.failed_since.filter(|since| *since <= asked.used_at) {
        let detail = format!(
            "{name} is out of use since {since}; used at {}",
            asked.used_at
        );
        drafts.push(HoldDraft::new(HoldKind::EquipmentFailed, detail));
    }
    for window in asked.suspect.iter().filter(|one| one.covers(asked.used_at)) {
        let after = window
            .after
            .map_or("no good check before".to_owned(), |at| {
                format!("last good check {at}")
            });
        let until = window.until.map_or("not good again yet".to_owned(), |at| {
            format!("good again {at}")
        });
        let detail = format!(
            "{name} failed a check: {after}, {until}; used at {}",
            asked.used_at
        );
        drafts.push(HoldDraft::new(HoldKind::EquipmentFailed, detail));
    }
}

fn known_reader(run: &Run, facts: &RunFacts<'_>, reader: &Reader, drafts: &mut Vec<HoldDraft>) {
    let serial = &reader.serial;
    if let Some(read) = run
        .entry
        .reader_serial
        .as_ref()
        .filter(|read| *read != serial)
    {
        let detail = format!("the run names reader {serial}; \"{read}\" was exported");
        drafts.push(HoldDraft::new(HoldKind::OriginDifference, detail));
    }
    let Some(read_at) = run.entry.read_at else {
        return;
    };
    let asked = Condition {
        name: format!("reader {serial}"),
        used_at: read_at,
        dues: [
            ("calibration", reader.calibration_due_on),
            ("check", reader.check_due_on),
        ],
        failed_since: reader.failed_since,
        suspect: facts.reader_suspect,
    };
    condition(facts, &asked, drafts);
    let port = run.entry.port;
    if reader.port_is_faulty(port, read_at) {
        let detail = format!("port {port} of reader {serial} was faulty at {read_at}");
        drafts.push(HoldDraft::new(HoldKind::PortFault, detail));
    }
}

fn other_equipment(
    facts: &RunFacts<'_>,
    used: &UsedEquipment<'_>,
    sieve: bool,
    drafts: &mut Vec<HoldDraft>,
) {
    let equipment = used.equipment;
    let grinder = equipment.kind == EquipmentKind::Grinder;
    let asked = Condition {
        name: format!("{} {}", equipment.kind.name(), equipment.code),
        used_at: used.used_at,
        dues: [
            ("calibration", equipment.calibration_due_on),
            (
                if grinder { "sieve check" } else { "check" },
                equipment.check_due_on,
            ),
        ],
        failed_since: equipment.failed_since,
        suspect: used.suspect,
    };
    condition(facts, &asked, drafts);
    if grinder && sieve && equipment.check_due_on.is_none() {
        let detail = format!("{} has no sieve check on record", asked.name);
        drafts.push(HoldDraft::new(HoldKind::EquipmentOverdue, detail));
    }
}
