//! Checks of what a certificate must say; the data is invented.

#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may unwrap"
)]

use super::*;
use crate::id::LotId;

/// Invented data, a whole certificate of a laboratory that does not exist.
const PAYLOAD: &str = include_str!("../../../tests/vectors/certificate_payload.json");

fn certificate() -> Certificate {
    serde_json::from_str(PAYLOAD).unwrap()
}

#[test]
fn the_payload_is_read_and_written_without_a_change() {
    let before: serde_json::Value = serde_json::from_str(PAYLOAD).unwrap();
    assert_eq!(serde_json::to_value(certificate()).unwrap(), before);
}

#[test]
fn a_result_without_release_is_refused() {
    let mut unreleased = certificate();
    unreleased.results[1].released = None;
    assert!(matches!(
        unreleased.check(),
        Err(CertificateError::Unreleased { .. })
    ));
    let mut only_reviewed = certificate();
    only_reviewed.results[0].released.as_mut().unwrap().meaning = Meaning::Reviewed;
    assert!(matches!(
        only_reviewed.check(),
        Err(CertificateError::Unreleased { .. })
    ));
}

#[test]
fn a_result_released_by_its_own_analyst_is_refused() {
    let mut own = certificate();
    let analyst = own.results[0].runs[0].analyst.clone();
    own.results[0].released.as_mut().unwrap().by = analyst.unwrap();
    assert!(matches!(
        own.check(),
        Err(CertificateError::ReleasedByAnalyst { .. })
    ));
}

#[test]
fn results_of_several_lots_are_refused() {
    let mut mixed = certificate();
    mixed.results[1].lot = LotId(uuid::Uuid::nil());
    assert_eq!(
        mixed.check(),
        Err(CertificateError::AnotherLot {
            pointer: "/results/1".to_owned()
        })
    );
}

#[test]
fn a_factor_that_its_volumes_do_not_make_is_refused() {
    let mut wrong = certificate();
    wrong.results[0].runs[1].dilution[0].diluent_volume_ul = "400".parse().unwrap();
    assert!(matches!(
        wrong.check(),
        Err(CertificateError::Arithmetic { .. })
    ));
}

#[test]
fn a_concentration_that_reading_and_factor_do_not_make_is_refused() {
    let mut wrong = certificate();
    wrong.results[0].runs[1].concentration = Some("52.000000".parse().unwrap());
    assert!(matches!(
        wrong.check(),
        Err(CertificateError::Arithmetic { .. })
    ));
}

#[test]
fn arithmetic_is_written_out() {
    let written: Vec<String> = certificate().results[0]
        .runs
        .iter()
        .map(|run| format!("{} | {}", run.volumes(), run.arithmetic()))
        .collect();
    assert_eq!(
        written,
        [
            "none beyond the procedure's own | 50 × 1/1 = 50.000000 (lower bound)",
            "100 µL + 500 µL water: (100 + 500) / 100 = 6/1 | 46 × 6/1 = 276.000000",
        ]
    );
}

#[test]
fn a_value_that_is_not_its_finding_is_refused() {
    let mut wrong = certificate();
    wrong.results[1].value = Some("640".parse().unwrap());
    assert!(matches!(
        wrong.check(),
        Err(CertificateError::Contradiction { .. })
    ));
}

#[test]
fn what_the_standard_asks_for_may_not_be_missing() {
    type Take = fn(&mut Certificate);
    let cases: [(Take, &str); 11] = [
        (|it| it.title.clear(), "/title"),
        (|it| it.issuer.name = None, "/issuer/name"),
        (|it| it.issuer.site.name = None, "/issuer/site/name"),
        (
            |it| it.customer.name = Some("  ".to_owned()),
            "/customer/name",
        ),
        (|it| it.procedures.clear(), "/procedures"),
        (|it| it.items[0].condition = None, "/items/0/condition"),
        (|it| it.sampling.plan = None, "/sampling/plan"),
        (|it| it.statements.clear(), "/statements"),
        (
            |it| it.results[0].runs[1].kit_lot = None,
            "/results/0/runs/1/kit_lot",
        ),
        (
            |it| it.results[1].runs[0].analyst = None,
            "/results/1/runs/0/analyst",
        ),
        (
            |it| it.results[0].decisions[0].rule.words.clear(),
            "/results/0/decisions/0/rule/words",
        ),
    ];
    for (take, expected) in cases {
        let mut certificate = certificate();
        take(&mut certificate);
        let refused = certificate.check();
        let Err(CertificateError::Missing { pointer, .. }) = refused else {
            unreachable!("{expected}: {refused:?}")
        };
        assert_eq!(pointer, expected);
    }
}

#[test]
fn a_customers_sample_needs_no_plan() {
    let mut received = certificate();
    received.sampling.taken_by = SamplingBy::Customer;
    received.sampling.plan = None;
    received.sampling.by = None;
    assert_eq!(received.check(), Ok(()));
}

#[test]
fn work_before_receipt_or_after_issue_is_refused() {
    let mut early = certificate();
    early.items[0].received_at = "2026-03-02T10:30:00Z".parse().unwrap();
    assert!(matches!(
        early.check(),
        Err(CertificateError::OutOfOrder { .. })
    ));
    let mut late = certificate();
    late.iat = 0;
    assert!(matches!(
        late.check(),
        Err(CertificateError::OutOfOrder { .. })
    ));
}

#[test]
fn an_amendment_lists_every_difference_and_keeps_names_disclosed() {
    let old = certificate();
    let mut new = certificate();
    new.number = "SG-2026-000218".to_owned();
    new.customer.name = Some("Hollow Mill Cooperative Society".to_owned());
    new.lot.mass.as_mut().unwrap().value = "480.6".parse().unwrap();
    let changes = changes_between(&old, &new).unwrap();
    let pointers: Vec<&str> = changes
        .iter()
        .map(|change| change.pointer.as_str())
        .collect();
    assert_eq!(pointers, ["/customer/name", "/lot/mass/value"]);
    assert_eq!(changes[0].before, None);
    assert_eq!(
        changes[0].text_before.as_deref(),
        Some("Hollow Mill Cooperative")
    );
    assert_eq!(changes[1].before.as_deref(), Some("480.5"));
    assert_eq!(changes[1].after.as_deref(), Some("480.6"));

    new.replaces = Some(old.number.clone());
    assert!(matches!(new.check(), Err(CertificateError::Missing { .. })));
    new.amendment = Some(Amendment {
        reason_code: "wrong-master-data".to_owned(),
        reason: Some("The customer's name was shortened.".to_owned()),
        changes,
    });
    assert_eq!(new.check(), Ok(()));
}

#[test]
fn disclosed_members_hold_only_texts() {
    let payload: serde_json::Value = serde_json::from_str(PAYLOAD).unwrap();
    for path in disclosed_members() {
        for found in at(&payload, path) {
            assert!(found.is_string(), "{path}");
        }
    }
}

/// The values that a path with `*` names.
fn at<'a>(value: &'a serde_json::Value, path: &str) -> Vec<&'a serde_json::Value> {
    path.split('/').skip(1).fold(vec![value], |values, name| {
        values
            .into_iter()
            .flat_map(|value| match (name, value) {
                ("*", serde_json::Value::Array(items)) => items.iter().collect(),
                _ => value.get(name).into_iter().collect::<Vec<_>>(),
            })
            .collect()
    })
}
