//! Certificates of an invented laboratory: opened, set as PDF, found again, compared.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "tests may unwrap"
)]

use super::*;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::certificates::{Certificate, disclosed_members};
use domain::ledger::Disclosure;
use domain::ledger::disclosure::conceal;
use serde_json::{Value, json};

const PAYLOAD: &str = include_str!("../../../tests/vectors/certificate_payload.json");

/// A bundle of the payload; its signatures are empty, since rendering checks none.
fn bundle_without(erased: &[&str]) -> Vec<u8> {
    bundle_of(serde_json::from_str(PAYLOAD).unwrap(), erased)
}

fn bundle_of(mut payload: Value, erased: &[&str]) -> Vec<u8> {
    let mut counter = 0_u128;
    let hidden = conceal(&mut payload, disclosed_members(), || {
        counter += 1;
        counter.to_be_bytes()
    })
    .unwrap();
    let mut left: Vec<&Disclosure> = hidden
        .iter()
        .filter(|it| {
            !it.value()
                .as_str()
                .is_some_and(|value| erased.contains(&value))
        })
        .collect();
    left.sort_by_key(|it| it.digest().to_owned());
    let disclosures: String = left.iter().map(|it| format!("{}~", it.text())).collect();
    let body = URL_SAFE_NO_PAD.encode(payload.to_string());
    let certificate = format!("e30.{body}.~{disclosures}");
    serde_json::to_vec(&json!({"certificate": certificate, "format": 1})).unwrap()
}

#[test]
fn a_bundle_opens_to_the_certificate_in_it() {
    let opened = open(&bundle_without(&[])).unwrap();
    let expected: Certificate = serde_json::from_str(PAYLOAD).unwrap();
    assert_eq!(opened.certificate, expected);
    assert_eq!(opened.withheld, 0);
}

#[test]
fn an_erased_name_is_said_to_be_erased_and_the_numbers_stay() {
    let opened = open(&bundle_without(&["Hollow Mill Cooperative", "Ilse Varga"])).unwrap();
    assert_eq!(opened.certificate.customer.name.as_deref(), Some(WITHHELD));
    assert_eq!(
        opened.certificate.signatures[0].by.name.as_deref(),
        Some(WITHHELD)
    );
    assert_eq!(opened.withheld, 5);
    let whole = open(&bundle_without(&[])).unwrap();
    assert_eq!(
        opened.certificate.results[0].value,
        whole.certificate.results[0].value
    );
}

#[test]
fn a_foreign_disclosure_is_refused() {
    let bundle = bundle_without(&[]);
    let mut bundle: Value = serde_json::from_slice(&bundle).unwrap();
    let foreign = Disclosure::new([9; 16], "name", &"Somebody else".into()).unwrap();
    bundle["certificate"] = json!(format!(
        "{}{}~",
        bundle["certificate"].as_str().unwrap(),
        foreign.text()
    ));
    let refused = open(bundle.to_string().as_bytes());
    assert!(matches!(refused, Err(OpenError::Disclosure(_))));
}

#[test]
fn what_the_template_shows() {
    let opened = open(&bundle_without(&[])).unwrap();
    let view = view::of(&opened, RENDERER).unwrap();
    let mut view = serde_json::to_value(view).unwrap();
    view["qr"].take();
    for result in view["results"].as_array_mut().unwrap() {
        result["scale"].take();
    }
    insta::assert_snapshot!(serde_json::to_string_pretty(&view).unwrap());
}

#[test]
fn the_same_bundle_gives_the_same_bytes_and_is_found_in_them() {
    let bundle = bundle_without(&[]);
    let pdf = render(&bundle).unwrap();
    assert_eq!(render(&bundle).unwrap(), pdf);
    assert_eq!(attached_bundle(&pdf).unwrap(), bundle);
    assert_eq!(compare_pages(&pdf).unwrap(), PagesCompared::Same);
    for mark in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfuaid:part>1</pdfuaid:part>",
    ] {
        assert!(contains(&pdf, mark), "{mark} is written");
    }
    if let Ok(path) = std::env::var("ASSIZE_KEEP_PDF") {
        std::fs::write(path, &pdf).unwrap();
    }
}

#[test]
fn another_bundle_gives_another_pdf_and_a_changed_page_is_seen() {
    let pdf = render(&bundle_without(&[])).unwrap();
    assert_ne!(
        render(&bundle_without(&["Hollow Mill Cooperative"])).unwrap(),
        pdf
    );
    // A changed letter of a name in the metadata leaves the file readable.
    let title = pdf
        .windows(17)
        .rposition(|it| it == b"Saltmarsh Grain L")
        .unwrap();
    let mut changed = pdf.clone();
    changed[title] = b'B';
    assert_eq!(compare_pages(&changed).unwrap(), PagesCompared::Different);
}

#[test]
fn a_pdf_without_a_bundle_is_refused() {
    assert_eq!(attached_bundle(b"no PDF"), Err(AttachmentError::NotPdf));
    let mut pdf = render(&bundle_without(&[])).unwrap();
    let at: Vec<usize> = pdf
        .windows(11)
        .enumerate()
        .filter(|(_, it)| *it == b"bundle.json")
        .map(|(at, _)| at)
        .collect();
    for at in at {
        pdf[at] = b'B';
    }
    assert_eq!(attached_bundle(&pdf), Err(AttachmentError::None));
}

#[test]
fn a_name_in_letters_without_a_font_is_still_printed() {
    let mut payload: Value = serde_json::from_str(PAYLOAD).unwrap();
    payload["customer"]["name"] = json!("穀物検査協会");
    let bundle = bundle_of(payload, &[]);
    let pdf = render(&bundle).unwrap();
    assert_eq!(attached_bundle(&pdf).unwrap(), bundle);
}

#[test]
fn an_amended_certificate_and_one_without_decisions_are_set() {
    let mut payload: Value = serde_json::from_str(PAYLOAD).unwrap();
    payload["replaces"] = json!("SG-2026-000211");
    payload["amendment"] = json!({
        "reason_code": "wrong-master-data",
        "reason": "The lot's mass was typed wrongly.",
        "changes": [{"pointer": "/lot/mass/value", "before": "48.05", "after": "480.5"}],
    });
    payload["results"][1]["decisions"] = json!([]);
    payload["holds"] = json!([]);
    payload["controls"] = json!([]);
    let pdf = render(&bundle_of(payload, &[])).unwrap();
    assert!(pdf.starts_with(b"%PDF"));
    if let Ok(path) = std::env::var("ASSIZE_KEEP_PDF") {
        std::fs::write(format!("{path}.amended.pdf"), &pdf).unwrap();
    }
}

fn contains(bytes: &[u8], text: &str) -> bool {
    bytes
        .windows(text.len())
        .any(|window| window == text.as_bytes())
}
