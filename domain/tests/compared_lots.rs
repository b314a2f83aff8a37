//! Computes every random case about a lot of `tests/compared/` and compares it with SciPy.
//!
//! Prints for each topic how many cases ran and how many agreed; fails for one that does not, and
//! for a topic of fewer than 500.
#![expect(clippy::unwrap_used, reason = "tests may")]
#![expect(
    clippy::disallowed_types,
    reason = "the other library's figures are floats"
)]

use domain::sampling_variance::{ChanceInputs, chance_above};
use domain::statistics::skewed::tails;
use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;

/// What was computed, what the library gave, and how far they may be apart, relative or absolute,
/// whichever is more.
type Compared = (String, f64, (f64, f64));

fn topic(name: &str, compute: fn(&Value) -> Vec<Compared>) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/compared");
    let text = std::fs::read_to_string(path.join(format!("{name}.jsonl"))).unwrap();
    let (mut ran, mut agreed, mut problems) = (0, 0, Vec::new());
    for line in text.lines() {
        let case: Value = serde_json::from_str(line).unwrap();
        ran += 1;
        let far: Vec<_> = compute(&case)
            .into_iter()
            .filter(|(got, expected, (relative, absolute))| {
                let got: f64 = got.parse().unwrap();
                (got - expected).abs() > absolute.max(relative * expected.abs())
            })
            .collect();
        if far.is_empty() {
            agreed += 1;
        } else {
            problems.push(format!("case {ran}: {far:?}"));
        }
    }
    // Past the capture of the test runner, so that every run says what it covered.
    let written = writeln!(
        std::io::stdout(),
        "{name}: {ran} cases ran, {agreed} agreed"
    );
    assert!(written.is_ok(), "standard output is closed");
    assert!(ran >= 500, "{name}: only {ran} cases");
    let shown: Vec<&String> = problems.iter().take(12).collect();
    assert!(
        problems.is_empty(),
        "{} of {ran}: {shown:#?}",
        problems.len()
    );
}

#[test]
fn tails_of_results_agree() {
    topic("acceptance", |case| {
        let number = |name: &str| case[name].as_str().unwrap().parse().unwrap();
        let distribution = serde_json::from_value(case["distribution"].clone()).unwrap();
        let found = tails(
            distribution,
            number("mean"),
            number("variance"),
            number("limit"),
        )
        .unwrap();
        let most = (1e-8, 1e-13);
        vec![
            (
                found.up_to.to_string(),
                case["up_to"].as_f64().unwrap(),
                most,
            ),
            (
                found.above.to_string(),
                case["above"].as_f64().unwrap(),
                most,
            ),
        ]
    });
}

#[test]
fn chances_that_a_lot_is_over_a_limit_agree() {
    topic("lots", |case| {
        let none = json!({"coefficient": "0", "exponent": "0"});
        let inputs: ChanceInputs = serde_json::from_value(json!({
            "plan": {"model": {"model": "own", "name": "random",
                    "sampling": {"coefficient": case["coefficient"], "exponent": case["exponent"]},
                    "preparation": none, "analysis": none,
                    "reference_sample_mass_kg": "1", "reference_test_portion_g": "50",
                    "concentration_ug_per_kg": ["0.001", "100000"],
                    "distribution": case["distribution"]},
                "sample_mass_kg": "1", "test_portion_g": "50"},
            "seen": {"kind": "value", "of": case["seen"]},
            "limit_ug_per_kg": case["limit"], "before": case["before"]}))
        .unwrap();
        let found = chance_above(&inputs).unwrap().probability_above;
        let expected = case["probability_above"].as_f64().unwrap();
        vec![(found.to_string(), expected, (1e-6, 1e-9))]
    });
}
