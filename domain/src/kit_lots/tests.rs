//! Kit lots: what they are refused for, and how their states follow.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may unwrap"
)]

use super::{KitLot, KitLotEntry, KitLotError, KitLotReceipt, KitLotState};

fn entry() -> KitLotEntry {
    serde_json::from_str(include_str!("example.json")).unwrap()
}

fn pointers(change: impl FnOnce(&mut KitLotEntry)) -> Vec<String> {
    let mut entry = entry();
    change(&mut entry);
    let faults = entry.check().err().unwrap_or_default();
    faults.0.into_iter().map(|fault| fault.pointer).collect()
}

fn receipt(tests: u32) -> KitLotReceipt {
    KitLotReceipt {
        received_on: "2026-03-02".parse().unwrap(),
        tests,
        storage_kept: true,
    }
}

#[test]
fn every_fault_is_told_with_its_pointer() {
    let none: [&str; 0] = [];
    assert_eq!(pointers(|_| {}), none);
    assert_eq!(pointers(|lot| lot.matrices.clear()), ["/matrices"]);
    assert_eq!(
        pointers(|lot| lot.matrices.push("maize".into())),
        ["/matrices/1"]
    );
    assert_eq!(pointers(|lot| lot.analytes.clear()), ["/analytes"]);
    assert_eq!(
        pointers(|lot| lot.receipts.push(receipt(0))),
        ["/receipts/1/tests"]
    );
    let upside_down = |lot: &mut KitLotEntry| {
        lot.storage = Some(super::Storage {
            minimum_c: "8".parse().unwrap(),
            maximum_c: "2".parse().unwrap(),
        });
    };
    assert_eq!(pointers(upside_down), ["/storage/maximum_c"]);
    let narrow = |lot: &mut KitLotEntry| {
        for range in &mut lot.analytes {
            range.upper = serde_json::from_str("\"2.5\"").unwrap();
        }
    };
    assert_eq!(pointers(narrow), ["/analytes/0/upper"]);
}

#[test]
fn a_lot_is_worked_with_only_while_it_is_accepted_and_in_date() {
    let lot = KitLot::quarantine(entry()).unwrap();
    let on = |day: &str| day.parse().unwrap();
    assert!(!lot.usable(on("2026-06-01")), "not accepted yet");
    let accepted = lot.accept(vec![]).unwrap();
    assert!(accepted.usable(on("2026-12-31")), "its last day is good");
    assert!(!accepted.usable(on("2027-01-01")));
    assert!(!accepted.recall().unwrap().usable(on("2026-06-01")));
    let mut packet = entry();
    for one in &mut packet.packets {
        one.expires_on = Some(on("2026-03-31"));
    }
    let packet = accepted.amend(packet).unwrap();
    assert!(
        packet.past_its_date(on("2026-04-01")),
        "a packet of it is past its date"
    );
}

#[test]
fn transitions_that_make_no_sense_are_refused() {
    let lot = KitLot::quarantine(entry()).unwrap();
    assert!(matches!(lot.exhaust(96), Err(KitLotError::Not { .. })));
    let accepted = lot.accept(vec![]).unwrap();
    assert!(accepted.accept(vec![]).is_err());
    let exhausted = accepted.exhaust(97).unwrap();
    assert_eq!(exhausted.tests_left(97), 0, "more were run than received");
    let again = exhausted.receive(receipt(48)).unwrap();
    assert_eq!(
        (again.state, again.tests_left(97)),
        (KitLotState::Accepted, 47)
    );
    assert!(matches!(
        exhausted.receive(receipt(0)),
        Err(KitLotError::Faults(_))
    ));
    let rejected = lot.reject(vec![]).unwrap();
    assert!(rejected.receive(receipt(1)).is_err());
    assert!(rejected.accept(vec![]).is_err());
    let recalled = rejected.recall().unwrap();
    assert!(recalled.recall().is_err());
    assert!(recalled.receive(receipt(1)).is_err());
    let waiting = lot.receive(receipt(1)).unwrap();
    assert_eq!(waiting.state, KitLotState::Quarantined);
}

#[test]
fn the_record_has_one_level() {
    let lot = KitLot::quarantine(entry()).unwrap();
    let value = serde_json::to_value(&lot).unwrap();
    assert_eq!(value.get("state").unwrap(), "quarantined");
    assert_eq!(value.get("code").unwrap(), "AF-2601");
    assert_eq!(serde_json::from_value::<KitLot>(value).unwrap(), lot);
}

#[test]
fn a_curve_that_tells_nothing_is_refused_with_its_pointer() {
    let with = |curves: serde_json::Value| {
        pointers(|lot| {
            lot.matrices = vec!["maize".into(), "wheat".into()];
            lot.curves = serde_json::from_value(curves).unwrap();
        })
    };
    let curve = |member: &str, value: serde_json::Value| {
        let mut curve = serde_json::json!({"analyte": "aflatoxin-total",
            "response": "test-over-control",
            "curve": {"lower": "0.1", "upper": "1.6", "slope": "1.1", "midpoint": "9"}});
        match member.strip_prefix("curve.") {
            Some(parameter) => curve["curve"][parameter] = value,
            None => curve[member] = value,
        }
        curve
    };
    let none: [&str; 0] = [];
    let good = curve("matrices", serde_json::json!(["wheat"]));
    assert_eq!(with(serde_json::json!([good])), none);
    for (member, value, pointer) in [
        ("curve.upper", serde_json::json!("0.1"), "/curve/upper"),
        ("curve.slope", serde_json::json!("0.0"), "/curve/slope"),
        ("curve.midpoint", serde_json::json!("0"), "/curve/midpoint"),
        ("analyte", serde_json::json!("zearalenone"), "/analyte"),
        ("matrices", serde_json::json!(["rye"]), "/matrices/0"),
        ("tolerance", serde_json::json!({}), "/tolerance"),
        (
            "tolerance",
            serde_json::json!({"proportional": "1"}),
            "/tolerance/proportional",
        ),
        (
            "tolerance",
            serde_json::json!({"constant": "-1"}),
            "/tolerance/constant",
        ),
        (
            "calibrators",
            serde_json::json!([{"concentration": "-1", "response": "1.5"}]),
            "/calibrators/0/concentration",
        ),
    ] {
        let pointer = format!("/curves/0{pointer}");
        assert_eq!(with(serde_json::json!([curve(member, value)])), [pointer]);
    }
    let all = curve("response", serde_json::json!("test-line"));
    assert_eq!(
        with(serde_json::json!([good, all])),
        ["/curves/1/matrices"],
        "wheat has one already"
    );
}
