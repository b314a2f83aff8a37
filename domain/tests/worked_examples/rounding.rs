//! Rounding: ISO 80000-1, ASTM E29, IEEE 754, GUM 7.2.6, customs, decimal against binary.

use serde_json::json;

use domain::quantity::Number;
use domain::rounding::each::RoundedValue;
use domain::rounding::reported::Reported;

use super::call::{compare, report, round_each};
use super::case::{Answers, Case, Failure, Value, given, list, text};

pub(crate) fn compute(case: &Case) -> Result<Answers, Failure> {
    match case.id.as_str() {
        "iso80000-1-rounding-range-0.1" => both_rules(case, "range", ["rule_A", "rule_B"]),
        "ieee754-ties" => both_rules(case, "", ["to_even", "away"]),
        "astm-e29-rounding-method-nickel-and-water" => rounding_method(case),
        "astm-e29-absolute-against-rounding" => absolute_and_rounding(case),
        "gum-7-2-6-reporting" => gum_reporting(case),
        "result-and-uncertainty-same-decimals" => same_decimals(case),
        "decimal-against-binary-ties" => decimal_and_binary(case),
        "data-book-tie-up" | "iowa-half-up-variant" => steps(case),
        "data-book-round-to-fives" => fives(case),
        _ => Err(Failure::Unknown),
    }
}

fn rounded(values: &[&str], steps: &[&str], tie: &str) -> Result<Vec<RoundedValue>, Failure> {
    let values: Vec<_> = values
        .iter()
        .zip(steps)
        .map(|(value, step)| {
            json!({"value": value, "rounding": {"to": "interval", "of": step, "tie": tie}})
        })
        .collect();
    Ok(round_each(&given(json!({"values": values}))?)?)
}

fn texts(values: &[RoundedValue]) -> Vec<String> {
    values.iter().map(|one| one.rounded.to_string()).collect()
}

fn both_rules(case: &Case, range: &str, names: [&str; 2]) -> Result<Answers, Failure> {
    let values = case.texts("value")?;
    let range = if range.is_empty() {
        "1"
    } else {
        case.text(range)?
    };
    let steps = vec![range; values.len()];
    let [even, away] = names;
    Ok(Answers::default()
        .put(even, texts(&rounded(&values, &steps, "half-even")?))
        .put(away, texts(&rounded(&values, &steps, "half-away")?)))
}

fn steps(case: &Case) -> Result<Answers, Failure> {
    let (values, steps) = (case.texts("value")?, case.texts("step")?);
    Ok(Answers::default().put("rule_B", texts(&rounded(&values, &steps, "half-away")?)))
}

fn fives(case: &Case) -> Result<Answers, Failure> {
    let values = case.texts("value")?;
    let steps = vec![case.text("step")?; values.len()];
    Ok(Answers::default().put("rounded", texts(&rounded(&values, &steps, "half-away")?)))
}

fn kind(word: &str) -> Result<&'static str, Failure> {
    match word {
        "min" => Ok("at-least"),
        "max" => Ok("at-most"),
        other => Err(Failure::Because(format!("kind {other}"))),
    }
}

fn rounding_method(case: &Case) -> Result<Answers, Failure> {
    let (limits, kinds) = (case.texts("limit")?, case.texts("kind")?);
    let steps = case.texts("round_to")?;
    let rows = list("observed", case.input("observed")?)?;
    let (mut shown, mut verdicts) = (Vec::new(), Vec::new());
    for (((limit, word), step), row) in limits.iter().zip(&kinds).zip(&steps).zip(rows) {
        let observed = list("observed", row)?
            .iter()
            .map(|one| text("observed", one))
            .collect::<Result<Vec<_>, _>>()?;
        let found = compare(&given(json!({"limit": limit, "kind": kind(word)?,
            "method": {"method": "rounded", "tie": "half-even", "round_to": step},
            "observed": observed}))?)?;
        shown.push(
            found
                .iter()
                .map(|one| one.compared.to_string())
                .collect::<Vec<_>>(),
        );
        verdicts.push(found.iter().map(|one| one.conforms).collect::<Vec<_>>());
    }
    Ok(Answers::default()
        .put("rounded", shown)
        .put("conforms", verdicts))
}

fn absolute_and_rounding(case: &Case) -> Result<Answers, Failure> {
    let with = |method: serde_json::Value| -> Result<Vec<bool>, Failure> {
        let found = compare(&given(json!({"limit": case.text("limit")?,
            "kind": kind(case.text("kind")?)?, "method": method,
            "observed": case.texts("observed")?}))?)?;
        Ok(found.iter().map(|one| one.conforms).collect())
    };
    let step = case.text("round_to")?;
    Ok(Answers::default()
        .put("absolute_method", with(json!({"method": "absolute"}))?)
        .put(
            "rounding_method",
            with(json!({"method": "rounded", "tie": "half-even", "round_to": step}))?,
        ))
}

fn gum_reporting(case: &Case) -> Result<Answers, Failure> {
    let resistance = report(&given(json!({"uncertainty": case.text("u_mOhm")?,
        "uncertainty_rounding": "up"}))?)?;
    let value = report(&given(json!({"value": case.text("y_ohm")?,
        "uncertainty": case.text("u_ohm")?, "uncertainty_rounding": "up"}))?)?;
    Ok(Answers::default()
        .put("u_reported_mOhm", resistance.uncertainty.to_string())
        .put("y_reported_ohm", shown(value.value)?))
}

fn shown(value: Option<Number>) -> Result<String, Failure> {
    let value = value.ok_or_else(|| Failure::Because("no value".into()))?;
    Ok(value.to_string())
}

fn same_decimals(case: &Case) -> Result<Answers, Failure> {
    let (values, uncertainties) = (case.texts("x")?, case.texts("U")?);
    let found = values
        .iter()
        .zip(&uncertainties)
        .map(|(x, u)| Ok(report(&given(json!({"value": x, "uncertainty": u}))?)?))
        .collect::<Result<Vec<Reported>, Failure>>()?;
    let x = found
        .iter()
        .map(|one| shown(one.value))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Answers::default()
        .put(
            "U",
            found
                .iter()
                .map(|one| one.uncertainty.to_string())
                .collect::<Vec<_>>(),
        )
        .put("x", x))
}

fn decimal_and_binary(case: &Case) -> Result<Answers, Failure> {
    let values: Vec<_> = case
        .texts("value")?
        .iter()
        .map(|value| {
            json!({"value": value,
            "rounding": {"to": "places", "of": 2, "tie": "half-away"}})
        })
        .collect();
    let found = round_each(&given(json!({"values": values}))?)?;
    let binary = found
        .iter()
        .map(|one| shown(one.as_binary))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Answers::default()
        .put("decimal", Value::from(texts(&found)))
        .put("binary_double", binary))
}
