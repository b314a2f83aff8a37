//! Time stamps of RFC 3161: a granted one holds for its query, data and root, and for no others; a
//! refusal is read as one.

use crate::{File, Tally};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use domain::ledger::timestamp::{self, TimeStamp, TimeStampError};
use rust_decimal::Decimal;
use serde_json::Value;

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    let Some(sections) = file.json.as_object() else {
        return;
    };
    for (section, case) in sections {
        let cases: Vec<&Value> = match case {
            Value::Array(cases) => cases.iter().collect(),
            Value::Object(_) => vec![case],
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => continue,
        };
        for (place, case) in cases.into_iter().enumerate() {
            run_case(section, &format!("{section} {place}"), case, tally);
        }
    }
}

fn bytes(case: &Value, member: &str) -> Option<Vec<u8>> {
    STANDARD.decode(case.get(member)?.as_str()?).ok()
}

/// The certificates of a PEM text, in DER.
fn certificates(pem: &str) -> Vec<Vec<u8>> {
    pem.split("-----BEGIN CERTIFICATE-----")
        .skip(1)
        .filter_map(|rest| rest.split("-----END CERTIFICATE-----").next())
        .filter_map(|body| {
            let body: String = body.split_whitespace().collect();
            STANDARD.decode(body).ok()
        })
        .collect()
}

fn run_case(section: &str, name: &str, case: &Value, tally: &mut Tally) {
    if case.get("response_der_base64").is_none() {
        return;
    }
    if case.get("gen_time").is_some() {
        granted(section, name, case, tally);
    } else if case.get("status").and_then(Value::as_u64).is_some() {
        tally.case(section, name, || is_refusal(case));
    } else {
        tally.case(section, name, || Some(verify(case)?.is_err()));
    }
}

fn verify(case: &Value) -> Option<Result<TimeStamp, TimeStampError>> {
    let roots = certificates(case.get("root_pem").and_then(Value::as_str).unwrap_or(""));
    let data = case.get("data").and_then(Value::as_str).unwrap_or("");
    let query = bytes(case, "query_der_base64")?;
    let answer = bytes(case, "response_der_base64")?;
    Some(timestamp::verify(&query, data.as_bytes(), &answer, &roots))
}

fn is_refusal(case: &Value) -> Option<bool> {
    let expected = case.get("status")?.as_u64()?;
    let bit = case
        .get("fail_info")
        .and_then(Value::as_str)
        .and_then(|text| {
            let digits = text.split("bit ").nth(1)?;
            let end = digits.find(|one: char| !one.is_ascii_digit())?;
            digits.get(..end)?.parse::<usize>().ok()
        });
    Some(match verify(case)? {
        Err(TimeStampError::Refused {
            status, failures, ..
        }) => status == expected && bit.is_none_or(|bit| failures == [bit]),
        Ok(_) | Err(_) => false,
    })
}

fn granted(section: &str, name: &str, case: &Value, tally: &mut Tally) {
    tally.case(section, name, || {
        let stamp = verify(case)?.ok()?;
        let said = case.get("gen_time")?.as_str()?;
        let policy = case.get("policy").and_then(Value::as_str);
        let accuracy = case.get("accuracy").and_then(Value::as_str);
        let accuracy = accuracy.and_then(|text| text.strip_suffix(" s")?.parse::<Decimal>().ok());
        let stated = stamp
            .accuracy_us
            .map(|us| Decimal::from(us) / Decimal::from(1_000_000));
        Some(
            stamp.time.to_string() == said.replace('Z', ".000000Z")
                && policy.is_none_or(|policy| policy == stamp.policy)
                && accuracy.is_none_or(|accuracy| Some(accuracy) == stated),
        )
    });
    let query = bytes(case, "query_der_base64").unwrap_or_default();
    let answer = bytes(case, "response_der_base64").unwrap_or_default();
    let data = case.get("data").and_then(Value::as_str).unwrap_or("");
    let roots = certificates(case.get("root_pem").and_then(Value::as_str).unwrap_or(""));
    let name_of = |what: &str| format!("{name}, {what}");
    tally.case(section, &name_of("the query as we make it"), || {
        let nonce = case.get("nonce_hex")?.as_str()?;
        let nonce = u64::from_str_radix(nonce, 16).ok()?.to_be_bytes();
        Some(timestamp::query(data.as_bytes(), nonce).ok()? == query)
    });
    tally.case(section, &name_of("over other data"), || {
        let other = timestamp::verify(&query, b"other", &answer, &roots);
        Some(other == Err(TimeStampError::OtherData))
    });
    tally.case(section, &name_of("for another nonce"), || {
        let other = timestamp::query(data.as_bytes(), [1; 8]).ok()?;
        let found = timestamp::verify(&other, data.as_bytes(), &answer, &roots);
        Some(matches!(found, Err(TimeStampError::OtherQuery(_))))
    });
    tally.case(section, &name_of("without a trusted root"), || {
        let found = timestamp::verify(&query, data.as_bytes(), &answer, &[]);
        Some(matches!(found, Err(TimeStampError::Chain(_))))
    });
    // A changed byte is refused wherever it matters; where it does not (a certificate that is not
    // needed, what the authority says in passing), the same is accepted as before.
    tally.case(section, &name_of("with each byte of it changed"), || {
        let original = timestamp::verify(&query, data.as_bytes(), &answer, &roots).ok()?;
        let mut accepted = 0_usize;
        for place in 0..answer.len() {
            let mut changed = answer.clone();
            *changed.get_mut(place)? ^= 1;
            let found = timestamp::verify(&query, data.as_bytes(), &changed, &roots);
            accepted += usize::from(found.is_ok_and(|stamp| stamp != original));
        }
        Some(accepted == 0)
    });
}
