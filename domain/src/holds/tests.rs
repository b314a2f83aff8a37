//! Holds for every kind of fact, and the properties of reconciling.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may panic"
)]

use proptest::prelude::*;

use super::*;
use crate::accounts::Authorisation;
use crate::equipment::{Equipment, SuspectWindow};
use crate::id::HoldId;
use crate::kit_lots::{KitLot, KitLotEntry, KitLotState};
use crate::preparations::Preparation;
use crate::procedures::{Procedure, ProcedureEntry, ProcedureState, Tolerances};
use crate::quality_control::{ControlSignal, ControlVerdict};
use crate::readers::Reader;
use crate::runs::{Run, RunContext, RunEntry};
use crate::samples::{Purpose, Sample};
use crate::statistics::control::ControlRule;

fn from<T: serde::de::DeserializeOwned>(text: &str) -> T {
    serde_json::from_str(text).unwrap()
}

/// Everything about one good run; each test spoils one thing. Invented data.
struct Bench {
    run: RunEntry,
    sample: Sample,
    ground: Preparation,
    portion: Preparation,
    extract: Preparation,
    procedure: Procedure,
    kit_lot: KitLot,
    reader: Reader,
    grinder: Equipment,
    suspect: Vec<SuspectWindow>,
    controls: Vec<(Analyte, ControlVerdict)>,
    signals: Vec<ControlSignal>,
    authorisations: Vec<Authorisation>,
    recorded_at: &'static str,
}

const TOTAL: Analyte = Analyte::AflatoxinTotal;

fn step(text: &str) -> Preparation {
    from(&format!(
        r#"{{"sample":"019ca869-5010-7d46-b59c-6cf85cca57e4",{text}}}"#
    ))
}

fn bench() -> Bench {
    let mut run: RunEntry = from(include_str!("../runs/example.json"));
    run.series = "019ca869-5014-7d46-b59c-6cf85cca57e4".parse().ok();
    let mut procedure: ProcedureEntry = from(include_str!("../procedures/example.json"));
    // Common practice, no source.
    procedure.tolerances = from::<Tolerances>(
        r#"{"minimum_ground_mass_g":"100","test_portion_mass_g":"10",
        "test_portion_tolerance_g":"0.1","liquid_parts_per_part":"5",
        "liquid_tolerance_percent":"2","minimum_shaking_s":180,"minimum_filtrate_ml":"3",
        "minimum_centrifugate_ml":"1","maximum_extract_age_s":3600,"read_after_s":360,
        "read_tolerance_s":30,"maximum_clock_ahead_s":60}"#,
    );
    let kit_lot: KitLotEntry = from(include_str!("../kit_lots/example.json"));
    Bench {
        sample: from(
            r#"{"code":"S-7","purpose":"customer","commodity":"maize-grain",
            "lot":"019ca869-5003-7d46-b59c-6cf85cca57e4","received_at":"2026-03-01T07:00:00Z"}"#,
        ),
        ground: step(r#""kind":"ground-sample","at":"2026-03-01T07:30:00Z","mass_g":"500""#),
        portion: step(r#""kind":"test-portion","at":"2026-03-01T07:40:00Z","mass_g":"10.1""#),
        extract: step(
            r#""kind":"extract","at":"2026-03-01T08:00:00Z","shaking_s":180,
            "clarification":"filter","clarified_volume_ml":"3",
            "liquids":[{"name":"water","lot":"W-1","volume_ml":"50.5","expires_on":"2026-03-01"}]"#,
        ),
        authorisations: vec![Authorisation {
            procedure: run.procedure.unwrap(),
            from: "2026-03-01".parse().unwrap(),
            until: "2026-03-01".parse().ok(),
        }],
        run,
        procedure: Procedure {
            state: ProcedureState::Adopted,
            entry: procedure,
        },
        kit_lot: KitLot {
            state: KitLotState::Accepted,
            acceptance_runs: vec![],
            comparison: None,
            entry: kit_lot,
        },
        reader: from(
            r#"{"serial":"R-1","name":"one","ports":3,"calibration_due_on":"2026-03-01"}"#,
        ),
        grinder: from(
            r#"{"code":"G-1","kind":"grinder","name":"mill","check_due_on":"2026-03-01"}"#,
        ),
        suspect: vec![],
        controls: vec![(TOTAL, ControlVerdict::Accepted)],
        signals: vec![],
        recorded_at: "2026-03-01T08:16:00Z",
    }
}

fn drafts(bench: &Bench) -> Vec<HoldDraft> {
    drafts_by(super::RULES, bench)
}

fn drafts_by(rules: u32, bench: &Bench) -> Vec<HoldDraft> {
    let run = Run::record(bench.run.clone(), &RunContext::default(), vec![]).unwrap();
    let equipment = [UsedEquipment {
        equipment: &bench.grinder,
        used_at: bench.ground.at,
        suspect: &bench.suspect,
    }];
    let known = bench.run.sample.is_some();
    let facts = RunFacts {
        sample: Some(&bench.sample).filter(|_| known),
        chain: Chain {
            ground_sample: Some(&bench.ground),
            test_portion: Some(&bench.portion),
            extract: Some(&bench.extract),
        },
        procedure: Some(&bench.procedure).filter(|_| bench.run.procedure.is_some()),
        kit_lot: Some(&bench.kit_lot).filter(|_| bench.run.kit_lot.is_some()),
        reader: Some(&bench.reader).filter(|_| bench.run.reader.is_some()),
        equipment: &equipment,
        controls: &bench.controls,
        control_signals: &bench.signals,
        authorisations: &bench.authorisations,
        ..RunFacts::at(bench.recorded_at.parse().unwrap())
    };
    evaluate_run_by(rules, &run, &facts).unwrap()
}

/// The kinds of hold after one thing was spoilt.
fn spoilt(spoil: impl FnOnce(&mut Bench)) -> Vec<HoldKind> {
    let mut spoilt = bench();
    spoil(&mut spoilt);
    drafts(&spoilt).iter().map(|draft| draft.kind).collect()
}

#[test]
fn a_run_with_nothing_amiss_has_no_hold() {
    assert_eq!(drafts(&bench()), []);
}

#[test]
fn what_ties_a_run_to_sample_procedure_and_analyst_is_held_where_it_is_missing() {
    assert_eq!(spoilt(|b| b.run.sample = None), [HoldKind::NoSample]);
    assert!(spoilt(|b| b.run.procedure = None).contains(&HoldKind::ProcedureMissing));
    assert_eq!(spoilt(|b| b.run.analyst = None), [HoldKind::AnalystUnknown]);
    assert_eq!(
        spoilt(|b| b.authorisations.clear()),
        [HoldKind::AnalystNotAuthorised]
    );
    let draft = spoilt(|b| b.procedure.state = ProcedureState::Draft);
    assert_eq!(draft, [HoldKind::ProcedureNotAdopted]);
    let wheat = spoilt(|b| b.sample.commodity = "wheat-grain".into());
    assert_eq!(wheat, [HoldKind::CommodityNotValidated]);
}

#[test]
fn the_kit_lot_is_held_for_what_is_amiss_with_it() {
    assert_eq!(spoilt(|b| b.run.kit_lot = None), [HoldKind::KitLotUnknown]);
    let other = spoilt(|b| b.run.kit_lot_code = Some("AF-2599".into()));
    assert_eq!(other, [HoldKind::KitLotMismatch]);
    let last_day = spoilt(|b| b.kit_lot.entry.expires_on = "2026-03-01".parse().unwrap());
    assert_eq!(last_day, [], "the last day is still good");
    let past = spoilt(|b| b.kit_lot.entry.expires_on = "2026-02-28".parse().unwrap());
    assert_eq!(past, [HoldKind::KitLotExpired]);
    let warm = spoilt(|b| b.kit_lot.entry.receipts[0].storage_kept = false);
    assert_eq!(warm, [HoldKind::KitLotStorage]);
    let diluent = spoilt(|b| {
        b.kit_lot.entry.packets[0].expires_on = "2026-02-28".parse().ok();
    });
    assert_eq!(diluent, [HoldKind::ReagentExpired]);
    let curve = spoilt(|b| b.run.curve_lot = Some("C-1".into()));
    assert_eq!(curve, [HoldKind::CurveMismatch]);
    let matrix = spoilt(|b| b.run.matrix = Some("wheat".into()));
    assert_eq!(matrix, [HoldKind::MatrixMismatch]);
}

#[test]
fn only_an_acceptance_run_may_use_a_lot_in_quarantine() {
    let held = [HoldKind::KitLotNotAccepted];
    assert_eq!(spoilt(|b| b.kit_lot.state = KitLotState::Quarantined), held);
    assert_eq!(spoilt(|b| b.kit_lot.state = KitLotState::Recalled), held);
    assert_eq!(spoilt(|b| b.kit_lot.state = KitLotState::Exhausted), []);
    let acceptance = spoilt(|b| {
        b.kit_lot.state = KitLotState::Quarantined;
        b.sample.purpose = Purpose::KitAcceptance;
    });
    assert_eq!(acceptance, []);
}

#[test]
fn equipment_is_held_when_overdue_failed_or_in_doubt() {
    assert_eq!(spoilt(|b| b.run.reader = None), [HoldKind::ReaderUnknown]);
    let overdue = spoilt(|b| b.reader.calibration_due_on = "2026-02-28".parse().ok());
    assert_eq!(overdue, [HoldKind::EquipmentOverdue]);
    let unsieved = spoilt(|b| b.grinder.check_due_on = None);
    assert_eq!(unsieved, [HoldKind::EquipmentOverdue]);
    let doubt = SuspectWindow {
        after: "2026-02-01T00:00:00Z".parse().ok(),
        until: "2026-03-05T00:00:00Z".parse().ok(),
    };
    assert_eq!(
        spoilt(|b| b.suspect.push(doubt)),
        [HoldKind::EquipmentFailed]
    );
    let port = spoilt(|b| {
        b.reader.port_faults = from(r#"[{"port":2,"since":"2026-03-01T08:00:00Z"}]"#);
    });
    assert_eq!(port, [HoldKind::PortFault]);
}

#[test]
fn preparation_is_held_outside_its_tolerances() {
    let out = [HoldKind::PreparationOutOfTolerance];
    assert_eq!(spoilt(|b| b.ground.mass_g = "99.9".parse().ok()), out);
    assert_eq!(spoilt(|b| b.extract.shaking_s = Some(179)), out);
    assert_eq!(
        spoilt(|b| b.extract.clarified_volume_ml = "2.9".parse().ok()),
        out
    );
    // 10.1 g want 50.5 mL; 2 % of it is 1.01 mL.
    let liquid = |volume: &str| {
        let volume = volume.parse().ok();
        spoilt(|b| b.extract.liquids[0].volume_ml = volume)
    };
    assert_eq!(liquid("51.51"), []);
    assert_eq!(liquid("51.52"), out);
    assert_eq!(liquid("49.48"), out);
    // A test portion of 10.2 g wants 51 mL: 50.5 mL is within 2 % of it.
    assert_eq!(spoilt(|b| b.portion.mass_g = "10.2".parse().ok()), out);
    let missing = [HoldKind::PreparationMissing];
    assert_eq!(spoilt(|b| b.ground.mass_g = None), missing);
    assert_eq!(spoilt(|b| b.extract.clarification = None), missing);
    let spun = spoilt(|b| {
        b.extract.clarification = Some(crate::preparations::Clarification::Centrifuge);
        b.extract.clarified_volume_ml = "1".parse().ok();
    });
    assert_eq!(spun, [], "less comes from a centrifuge");
}

#[test]
fn times_are_held_when_they_cannot_be_or_are_not_allowed() {
    let too_old = spoilt(|b| b.extract.at = "2026-03-01T07:15:29Z".parse().unwrap());
    assert_eq!(too_old, [HoldKind::ExtractTooOld]);
    let after = spoilt(|b| b.extract.at = "2026-03-01T08:15:31Z".parse().unwrap());
    assert_eq!(after, [HoldKind::PreparationOutOfTolerance]);
    let early = spoilt(|b| b.run.begun_at = "2026-03-01T08:10:01Z".parse().ok());
    assert_eq!(early, [HoldKind::ReadOutsideWindow]);
    let within = spoilt(|b| b.recorded_at = "2026-03-01T08:14:30Z");
    assert_eq!(within, [], "60 s ahead is allowed");
    let ahead = spoilt(|b| b.recorded_at = "2026-03-01T08:14:29.999999Z");
    assert_eq!(ahead, [HoldKind::ClockAhead]);
    let reagent = spoilt(|b| b.extract.liquids[0].expires_on = "2026-02-28".parse().ok());
    assert_eq!(reagent, [HoldKind::ReagentExpired]);
}

#[test]
fn dilution_is_held_unless_validated_and_in_agreement() {
    let double = spoilt(|b| {
        b.run.dilution[0].sample_volume_ul = "200".parse().unwrap();
        b.run.dilution[0].diluent_volume_ul = "1000".parse().unwrap();
    });
    assert_eq!(double, [], "the same dilution in twice the volume");
    let buffer = spoilt(|b| b.run.dilution[0].diluent = "buffer".into());
    assert_eq!(buffer, [HoldKind::DilutionNotValidated]);
    let stated = spoilt(|b| b.run.stated_factor = "5".parse().ok());
    assert_eq!(stated, [HoldKind::FactorDisagreement]);
}

#[test]
fn a_rule_over_control_runs_holds_by_rules_number_2_alone() {
    let mut signalled = bench();
    signalled.signals = vec![ControlSignal {
        analyte: TOTAL,
        detail: "rule 2-2s: two control runs".into(),
        rule: ControlRule::TwoBeyondTwo,
        runs: vec![],
    }];
    assert_eq!(drafts_by(1, &signalled), []);
    let found = drafts(&signalled);
    assert_eq!((found.len(), found[0].kind), (1, HoldKind::ControlRule));
    assert_eq!(found[0].analyte, Some(TOTAL));
    assert!(
        found[0].kind.acceptable(),
        "a reviewer may assess its effect"
    );
}

#[test]
fn a_reading_that_does_not_follow_from_its_signals_is_held_for_its_analyte() {
    let with = |control_line: &str| {
        let mut bench = bench();
        bench.kit_lot.entry.curves = from(
            r#"[{"analyte":"aflatoxin-total","response":"test-over-control",
            "curve":{"lower":"0","upper":"2","slope":"1","midpoint":"12.5"}}]"#,
        );
        bench.run.readings[0].signals = from(&format!(
            r#"{{"test_line":"1000","control_line":"{control_line}"}}"#
        ));
        drafts(&bench)
    };
    assert_eq!(with("1000"), [], "12.5 µg/kg, before the factor");
    let found = with("2000");
    assert_eq!(
        (found.len(), found[0].kind, found[0].analyte),
        (1, HoldKind::SignalDisagreement, Some(TOTAL))
    );
    assert!(found[0].detail.contains("the signals give 37.5 µg/kg"));
    assert!(found[0].kind.acceptable(), "a reviewer may find the cause");
}

#[test]
fn controls_and_readings_are_held_for_their_analyte() {
    let out = |detail: &str| ControlVerdict::Out {
        detail: detail.into(),
    };
    let mut spoilt_bench = bench();
    spoilt_bench.controls = vec![(TOTAL, out("9 µg/kg; the window is 16 to 24 µg/kg"))];
    let found = drafts(&spoilt_bench);
    assert_eq!(found[0].kind, HoldKind::ControlOut);
    assert_eq!(found[0].analyte, Some(TOTAL));
    assert_eq!(spoilt(|b| b.controls.clear()), [HoldKind::ControlMissing]);
    let optional = spoilt(|b| {
        b.controls.clear();
        b.procedure.entry.controls.required = false;
    });
    assert_eq!(optional, []);
    let invalid = spoilt(|b| {
        b.run.readings = from(
            r#"[{"analyte":"aflatoxin-total","kind":"invalid","unit":"ug/kg",
            "reason":"no-control-line"}]"#,
        );
    });
    assert_eq!(invalid, [HoldKind::InvalidReading]);
}

#[test]
fn two_pieces_of_equipment_are_two_holds_and_the_order_of_facts_does_not_matter() {
    let bench = bench();
    let run = Run::record(bench.run.clone(), &RunContext::default(), vec![]).unwrap();
    let balance = |code: &str| -> Equipment {
        from(&format!(
            r#"{{"code":"{code}","kind":"balance","name":"b","calibration_due_on":"2026-01-01"}}"#
        ))
    };
    let (one, two) = (balance("B-1"), balance("B-2"));
    let used = |equipment| UsedEquipment {
        equipment,
        used_at: bench.portion.at,
        suspect: &[],
    };
    let mut equipment = vec![used(&one), used(&two), used(&one)];
    let recorded_at = bench.recorded_at.parse().unwrap();
    let found = evaluate_run(
        &run,
        &RunFacts {
            equipment: &equipment,
            ..RunFacts::at(recorded_at)
        },
    );
    let overdue = found
        .iter()
        .filter(|d| d.kind == HoldKind::EquipmentOverdue)
        .count();
    assert_eq!(overdue, 2);
    equipment.reverse();
    let turned = RunFacts {
        equipment: &equipment,
        ..RunFacts::at(recorded_at)
    };
    assert_eq!(evaluate_run(&run, &turned), found);
}

fn run_id(number: u8) -> RunId {
    format!("019ca869-5003-7d46-b59c-0000000000{number:02x}")
        .parse()
        .unwrap()
}

fn at() -> Moment {
    "2026-03-01T10:00:00Z".parse().unwrap()
}

fn any_draft() -> impl Strategy<Value = HoldDraft> {
    let kinds = proptest::sample::select(HoldKind::ALL);
    let analyte = proptest::option::of(proptest::sample::select(&Analyte::ALL[..2]));
    (kinds, analyte, 0..3_u8).prop_map(|(kind, analyte, number)| HoldDraft {
        kind,
        analyte,
        detail: format!("fact {number}"),
    })
}

fn any_existing() -> impl Strategy<Value = Vec<ExistingHold>> {
    let one = (any_draft(), 0..2_u8, any::<bool>(), 0..5_u8);
    proptest::collection::vec(one, 0..12).prop_map(|holds| {
        holds
            .into_iter()
            .enumerate()
            .map(|(place, (draft, run, person, lifted))| {
                let mut hold = Hold::raise(Held::Run(run_id(run)), None, draft, vec![]);
                if person {
                    hold.raised_by = RaisedBy::Account(AccountId(run_id(9).0));
                }
                let how = match lifted {
                    0 => Some(LiftedBy::Correction),
                    1 => Some(LiftedBy::Acceptance),
                    _ => None,
                };
                hold.lifted = how.map(|how| Lifted {
                    how,
                    by: None,
                    at: at(),
                    reason: None,
                });
                let id = HoldId(run_id(u8::try_from(place).unwrap()).0);
                ExistingHold { id, hold }
            })
            .collect()
    })
}

/// The holds after what a reconciliation says was done.
fn apply(existing: &[ExistingHold], of: Held, outcome: &Reconciliation) -> Vec<ExistingHold> {
    let mut after: Vec<ExistingHold> = existing
        .iter()
        .map(
            |one| match outcome.lift.iter().find(|lift| lift.id == one.id) {
                Some(lift) => ExistingHold {
                    id: one.id,
                    hold: one.hold.lift(lift.how, None, at()).unwrap(),
                },
                None => one.clone(),
            },
        )
        .collect();
    for (place, draft) in outcome.raise.iter().enumerate() {
        let id = HoldId(run_id(100 + u8::try_from(place).unwrap()).0);
        let hold = Hold::raise(of, None, draft.clone(), vec![]);
        after.push(ExistingHold { id, hold });
    }
    after
}

proptest! {
    #[test]
    fn reconciling_twice_changes_nothing_the_second_time(
        existing in any_existing(), drafts in proptest::collection::vec(any_draft(), 0..8),
    ) {
        let of = Held::Run(run_id(0));
        let first = reconcile(&existing, of, &drafts, LiftedBy::Correction);
        let after = apply(&existing, of, &first);
        let second = reconcile(&after, of, &drafts, LiftedBy::Correction);
        prop_assert!(second.raise.is_empty() && second.lift.is_empty());
    }

    #[test]
    fn nothing_disappears(
        existing in any_existing(), drafts in proptest::collection::vec(any_draft(), 0..8),
    ) {
        let of = Held::Run(run_id(0));
        let outcome = reconcile(&existing, of, &drafts, LiftedBy::AnotherRun);
        let mut seen: Vec<HoldId> = outcome.lift.iter().map(|lift| lift.id).collect();
        seen.extend(&outcome.keep);
        seen.sort_unstable();
        let mut given: Vec<HoldId> = existing.iter().map(|one| one.id).collect();
        given.sort_unstable();
        prop_assert_eq!(seen, given);
        // Everything amiss is said by a hold that stands or was accepted; a person's stays.
        let after = apply(&existing, of, &outcome);
        for draft in &drafts {
            prop_assert!(after.iter().any(|one| one.hold.of == of
                && one.hold.says() == *draft
                && one.hold.raised_by == RaisedBy::Rule));
        }
        for lift in &outcome.lift {
            let hold = &existing.iter().find(|one| one.id == lift.id).unwrap().hold;
            prop_assert!(hold.raised_by == RaisedBy::Rule && hold.of == of);
        }
    }

    #[test]
    fn the_order_of_drafts_and_holds_does_not_matter(
        existing in any_existing(), drafts in proptest::collection::vec(any_draft(), 0..8),
    ) {
        let of = Held::Run(run_id(0));
        let (mut turned_holds, mut turned_drafts) = (existing.clone(), drafts.clone());
        turned_holds.reverse();
        turned_drafts.reverse();
        prop_assert_eq!(
            reconcile(&existing, of, &drafts, LiftedBy::Correction),
            reconcile(&turned_holds, of, &turned_drafts, LiftedBy::Correction)
        );
    }
}

#[test]
fn an_acceptance_covers_only_the_facts_that_the_reviewer_saw() {
    let of = Held::Run(run_id(0));
    let old = HoldDraft::new(HoldKind::ExtractTooOld, "65 min");
    let reviewer = AccountId(run_id(9).0);
    let hold = Hold::raise(of, None, old.clone(), vec![]);
    let accepted = hold.accept(reviewer, &[], "stable", at()).unwrap();
    let existing = [ExistingHold {
        id: HoldId(run_id(1).0),
        hold: accepted,
    }];
    let same = reconcile(&existing, of, &[old], LiftedBy::Correction);
    assert!(same.raise.is_empty());
    let older = HoldDraft::new(HoldKind::ExtractTooOld, "90 min");
    let changed = reconcile(
        &existing,
        of,
        std::slice::from_ref(&older),
        LiftedBy::Correction,
    );
    assert_eq!(changed.raise, [older]);
}
