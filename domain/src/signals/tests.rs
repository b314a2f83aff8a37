//! What agrees with its signals, and what does not. All numbers are invented; concentrations are
//! those of the curve's formula at the responses used.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::disallowed_types,
    reason = "tests may unwrap, and make signals by the forward curve in floats"
)]

use proptest::prelude::*;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use rust_decimal::{Decimal, RoundingStrategy};
use serde_json::{Value, json};

use super::{FromSignals, SignalCheck, StripSignals, check_signals};
use crate::kit_lots::KitLotEntry;
use crate::runs::{Run, RunContext, RunEntry};

/// A falling curve of test over control: at 1 the concentration is 10 µg/kg, at 1.6 it is 2.5.
fn curve() -> Value {
    json!({"analyte": "aflatoxin-total", "response": "test-over-control",
        "curve": {"lower": "0", "upper": "2", "slope": "1", "midpoint": "10"}})
}

fn lot(curves: &[Value]) -> KitLotEntry {
    let mut lot: KitLotEntry =
        serde_json::from_str(include_str!("../kit_lots/example.json")).unwrap();
    lot.matrices.push("wheat".into());
    lot.curves = serde_json::from_value(json!(curves)).unwrap();
    lot.check().unwrap();
    lot
}

fn run(reading: &Value) -> Run {
    let mut reading = reading.clone();
    reading["analyte"] = json!("aflatoxin-total");
    reading["unit"] = json!("ug/kg");
    let mut entry: RunEntry = serde_json::from_str(include_str!("../runs/example.json")).unwrap();
    entry.dilution.clear();
    entry.stated_factor = None;
    entry.readings = vec![serde_json::from_value(reading).unwrap()];
    Run::record(entry, &RunContext::default(), vec![]).unwrap()
}

/// `12.5`, `<2`, `>50` or `ND`, with signals of test and control line.
fn read(text: &str, test: &str, control: &str) -> Run {
    let (kind, value) = match text {
        "ND" => ("not-detected", None),
        bound if bound.starts_with('<') => ("below", Some(bound.trim_start_matches('<'))),
        bound if bound.starts_with('>') => ("above", Some(bound.trim_start_matches('>'))),
        plain => ("number", Some(plain)),
    };
    let mut reading = json!({"kind": kind,
        "signals": {"test_line": test, "control_line": control}});
    if let Some(value) = value {
        reading["value"] = json!(value);
    }
    run(&reading)
}

fn one(run: &Run, lot: &KitLotEntry) -> Option<SignalCheck> {
    let mut all = check_signals(run, lot, None).into_iter();
    let first = all.next();
    assert_eq!(all.next(), None);
    first
}

fn agrees(text: &str, test: &str, control: &str) -> bool {
    one(&read(text, test, control), &lot(&[curve()]))
        .unwrap()
        .agrees
}

#[test]
fn a_number_agrees_where_it_and_its_signals_can_both_be_true() {
    let lot = lot(&[curve()]);
    let found = one(&read("2.5", "1600", "1000"), &lot).unwrap();
    assert_eq!(found.response, Some("1.6".parse().unwrap()));
    let value = serde_json::from_str("\"2.5\"").unwrap();
    assert_eq!(found.from_signals, FromSignals::Number { value });
    assert!(found.agrees);
    // 1599.5/1000.5 to 1600.5/999.5 are 1.59870… to 1.60130…: 2.49000 to 2.51017 µg/kg.
    assert!(agrees("2.5", "1600", "1000"));
    assert!(!agrees("2.6", "1600", "1000"));
    assert!(agrees("2.51", "1600", "1000"));
    assert!(!agrees("2.52", "1600", "1000"));
    // One place more in the signals leaves less open.
    assert!(!agrees("2.51", "1600.0", "1000.0"));
    let said = one(&read("8.2", "1600", "1000"), &lot);
    let said = said.unwrap().said(&read("8.2", "1600", "1000"));
    assert!(
        said.starts_with("aflatoxin-total: the signals give 2.5 µg/kg (2.4")
            && said.ends_with("; the reader gave 8.2 ug/kg"),
        "{said}"
    );
}

#[test]
fn the_tolerance_of_the_lot_comes_on_top() {
    let with = |tolerance: Value| {
        let mut curve = curve();
        curve["tolerance"] = tolerance;
        lot(&[curve])
    };
    let agrees = |value: &str, tolerance: Value| {
        let run = read(value, "1600.00", "1000.00");
        one(&run, &with(tolerance)).unwrap().agrees
    };
    let tenth = json!({"proportional": "0.1"});
    assert!(
        agrees("2.75", tenth.clone()),
        "10 % of 2.5, its end included"
    );
    assert!(!agrees("2.76", tenth.clone()));
    assert!(agrees("2.25", tenth.clone()));
    assert!(!agrees("2.23", tenth));
    let both = json!({"proportional": "0.1", "constant": "0.5"});
    assert!(agrees("3.25", both.clone()));
    assert!(!agrees("3.27", both));
}

#[test]
fn a_bound_is_contradicted_by_what_lies_wholly_beyond_it() {
    assert!(agrees("<3", "1600", "1000"));
    assert!(!agrees("<2", "1600", "1000"));
    assert!(agrees("<2.5", "1600", "1000"), "less than 2.5 is possible");
    assert!(agrees(">2", "1600", "1000"));
    assert!(!agrees(">3", "1600", "1000"));
    assert!(agrees(">2.5", "1600", "1000"));
    // The lot's limit of quantification, 2.5, stands for that of detection.
    assert!(agrees("ND", "1700", "1000"));
    assert!(!agrees("ND", "1500", "1000"));
}

#[test]
fn a_response_outside_the_curve_fits_the_side_that_it_is_on() {
    let lot = lot(&[curve()]);
    let below = one(&read("4.1", "2100", "1000"), &lot).unwrap();
    assert_eq!(below.from_signals, FromSignals::BelowCurve);
    assert!(!below.agrees, "zero is not 4.1");
    let said = below.said(&read("4.1", "2100", "1000"));
    assert!(said.contains("outside the curve, below every"), "{said}");
    assert!(agrees("0.0", "2100", "1000"), "a reader gives zero for it");
    assert!(agrees("<2", "2100", "1000") && agrees("ND", "2100", "1000"));
    assert!(!agrees(">50", "2100", "1000"));

    let above = one(&read("49", "0.0", "1000"), &curve_from(0.2)).unwrap();
    assert_eq!(above.from_signals, FromSignals::AboveCurve);
    assert_eq!((above.least, above.most, above.agrees), (None, None, false));
    let of = |text: &str| one(&read(text, "0.0", "1000"), &curve_from(0.2)).unwrap();
    assert!(of(">50").agrees && !of("<60").agrees && !of("ND").agrees);
    let said = above.said(&read("49", "0.0", "1000"));
    assert!(said.contains("outside the curve, above every"), "{said}");
}

/// The curve with this lower asymptote.
fn curve_from(lower: f64) -> KitLotEntry {
    let mut curve = curve();
    curve["curve"]["lower"] = json!(lower.to_string());
    lot(&[curve])
}

#[test]
fn a_rising_curve_has_its_sides_the_other_way_round() {
    let mut rising = curve();
    rising["curve"]["slope"] = json!("-1");
    let lot = lot(&[rising]);
    let of = |text: &str, test: &str| one(&read(text, test, "1000"), &lot).unwrap();
    // At 1.6 a rising curve is at four times the midpoint.
    assert!(of("40.0", "1600").agrees);
    assert_eq!(of(">50", "2100").from_signals, FromSignals::AboveCurve);
    assert!(of(">50", "2100").agrees && !of("<60", "2100").agrees);
}

#[test]
fn a_diluted_reading_is_compared_before_its_factor() {
    let lot = lot(&[curve()]);
    let dilute = |value: &str, includes: bool| {
        let mut entry = read(value, "1600.00", "1000.00").entry;
        entry.dilution = serde_json::from_value(json!([{"sample_volume_ul": "150",
            "diluent_volume_ul": "500", "diluent": "water"}]))
        .unwrap();
        entry.value_includes_factor = includes;
        let run = Run::record(entry, &RunContext::default(), vec![]).unwrap();
        let found = one(&run, &lot).unwrap();
        (found.agrees, found.said(&run))
    };
    assert!(dilute("2.5", false).0, "the curve knows of no dilution");
    assert!(!dilute("10.8", false).0);
    // 2.5 × 13/3 = 10.833…
    assert!(dilute("10.83", true).0);
    assert!(dilute("10.8", true).0);
    let (agrees, said) = dilute("2.5", true);
    assert!(
        !agrees && said.ends_with("gave 2.5 ug/kg, multiplied by 13/3"),
        "{said}"
    );
}

#[test]
fn what_is_missing_is_not_compared() {
    let lot = lot(&[curve()]);
    let none = |reading: Value| check_signals(&run(&reading), &lot, None).is_empty();
    let number = |signals: Value| json!({"kind": "number", "value": "2.5", "signals": signals});
    assert!(none(json!({"kind": "number", "value": "2.5"})));
    assert!(
        none(number(json!({"test_line": "1600"}))),
        "no ratio without control line"
    );
    assert!(none(number(json!({"control_line": "1000"}))));
    let invalid = json!({"kind": "invalid", "reason": "other",
        "signals": {"test_line": "1", "control_line": "1"}});
    assert!(none(invalid), "never used");

    let mut test_line = curve();
    test_line["response"] = json!("test-line");
    test_line["curve"]["upper"] = json!("2000");
    let of_test_line = self::lot(&[test_line]);
    let alone = run(&number(json!({"test_line": "1600"})));
    assert!(one(&alone, &of_test_line).unwrap().agrees);
    let dead = one(&read("2.5", "1600", "0"), &lot).unwrap();
    assert_eq!(
        (dead.from_signals, dead.agrees),
        (FromSignals::NoRatio, false)
    );
}

#[test]
fn the_matrix_chooses_the_curve() {
    let mut maize = curve();
    maize["matrices"] = json!(["maize"]);
    let mut wheat = curve();
    wheat["matrices"] = json!(["wheat"]);
    wheat["curve"]["midpoint"] = json!("20");
    let lot = lot(&[maize, wheat]);
    let with = |matrix: Option<&str>| {
        let mut run = read("5.0", "1600", "1000");
        run.entry.matrix = matrix.map(str::to_owned);
        one(&run, &lot).map(|one| one.agrees)
    };
    assert_eq!(with(Some("wheat")), Some(true));
    assert_eq!(with(Some("maize")), Some(false));
    assert_eq!(with(Some("barley")), None);
    assert_eq!(with(None), None, "it may be either");
}

#[test]
fn signals_that_cannot_be_are_refused() {
    let pointers = |signals: Value| {
        let signals: StripSignals = serde_json::from_value(signals).unwrap();
        let faults = signals.check().err().unwrap_or_default();
        let all = faults.0.into_iter().map(|fault| fault.pointer);
        all.collect::<Vec<_>>()
    };
    assert_eq!(pointers(json!({})), [""]);
    assert_eq!(pointers(json!({"control_line": "-1"})), ["/control_line"]);
    assert!(pointers(json!({"test_line": "0", "control_line": "0"})).is_empty());
}

/// A value cut to places, half to even.
fn cut(value: f64, places: u32) -> Decimal {
    let exact = Decimal::from_f64(value).unwrap();
    let mut cut = exact.round_dp_with_strategy(places, RoundingStrategy::MidpointNearestEven);
    cut.rescale(places);
    cut
}

proptest! {
    /// Signals made by the forward curve, and the concentration that they were made from, agree at
    /// whatever places either is cut to, with any tolerance and any factor.
    #[test]
    fn what_the_curve_gives_agrees_with_it(
        x in 0.5_f64..60.0, slope in prop_oneof![-3.0_f64..-0.5, 0.5_f64..3.0],
        midpoint in 1.0_f64..40.0, control in 500.0_f64..5000.0,
        places in 0_u32..6, signal_places in 0_u32..6, tolerance in 0_u32..3,
        times in 1_u32..30, includes in any::<bool>(),
    ) {
        let (lower, upper) = (0.1, 1.9);
        let mut one_curve = curve();
        let (slope, midpoint) = (cut(slope, 6), cut(midpoint, 6));
        one_curve["curve"] = json!({"lower": "0.1", "upper": "1.9",
            "slope": slope.to_string(), "midpoint": midpoint.to_string()});
        if tolerance > 0 {
            one_curve["tolerance"] = json!({"proportional": format!("0.0{tolerance}")});
        }
        let power = (slope.to_f64().unwrap() * (x / midpoint.to_f64().unwrap()).ln()).exp();
        let response = lower + (upper - lower) / (1.0 + power);
        let mut entry = read(
            "1",
            &cut(response * control, signal_places).to_string(),
            &cut(control, signal_places).to_string(),
        )
        .entry;
        let mut shown = cut(x, places);
        if includes {
            entry.dilution = serde_json::from_value(json!([{"sample_volume_ul": "7",
                "diluent_volume_ul": (7 * times).to_string(), "diluent": "water"}])).unwrap();
            entry.value_includes_factor = true;
            shown *= Decimal::from(times + 1);
        }
        for reading in &mut entry.readings {
            reading.value = Some(crate::quantity::Number(shown));
        }
        let run = Run::record(entry, &RunContext::default(), vec![]).unwrap();
        let found = one(&run, &lot(&[one_curve])).unwrap();
        prop_assert!(found.agrees, "{}", found.said(&run));
    }
}
