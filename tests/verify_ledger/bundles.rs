//! The golden bundles, judged by the second verifier.

use super::{archives::golden, second::second};
use serde_json::{Value, json};

#[test]
fn the_second_verifier_judges_every_golden_bundle_alike() {
    let golden = golden();
    let cases = golden["bundle_cases"].as_array().unwrap();
    let text = |value: &Value| {
        value
            .as_str()
            .map_or_else(|| value.to_string(), str::to_owned)
    };
    let asked: Vec<Value> = cases
        .iter()
        .map(|case| {
            let bundle = case.get("text").unwrap_or(&case["bundle"]);
            let mut asked = json!({"bundle": text(bundle)});
            if let Some(trust) = case.get("trust") {
                asked["trust"] = json!(text(trust));
            }
            asked
        })
        .collect();
    let Some(said) = second(&asked) else {
        return;
    };
    let wrong: Vec<String> = cases
        .iter()
        .zip(&said)
        .filter(|(case, said)| case["exit"] != json!(said.exit))
        .map(|(case, said)| format!("{}: {said:?}, not {}", case["name"], case["exit"]))
        .collect();
    assert_eq!(said.len(), 78);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
