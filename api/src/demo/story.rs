//! What happened to the demo's results: most reviewed and released, certificates issued, a run
//! corrected after its release, and the certificate on it amended.

use super::{
    caller::{Caller, text, version},
    goods::Sampled,
    people::People,
};
use crate::error::Answer;
use serde_json::{Value, json};

/// Tells the story as far as it was not told yet.
pub(crate) async fn tell(people: &People, goods: &[Sampled], password: &str) -> Answer<()> {
    let mut certified = 0_u32;
    for one in goods.iter().filter(|one| one.number < 34) {
        // Every ninth waits for its reviewer.
        if one.number % 9 == 4 {
            continue;
        }
        let released = release(people, one, password).await?;
        if released.is_empty() || certified >= 12 {
            continue;
        }
        let before = certificates(&people.reviewer, &one.lot).await?;
        if before.is_empty() {
            let body = json!({"lot": one.lot, "results": released});
            if let Err(error) = people.reviewer.post("/certificates", &body).await {
                super::note("a certificate", &error);
                continue;
            }
        }
        certified = certified.saturating_add(1);
    }
    match goods.iter().find(|one| one.number == 1) {
        Some(one) => amend(people, one, password).await,
        None => Ok(()),
    }
}

async fn results(caller: &Caller, sample: &str) -> Answer<Vec<Value>> {
    let page = caller.get(&format!("/results?sample={sample}")).await?;
    Ok(page
        .get("items")
        .and_then(Value::as_array)
        .cloned()
        .unwrap_or_default())
}

async fn certificates(caller: &Caller, lot: &str) -> Answer<Vec<Value>> {
    let page = caller.get(&format!("/certificates?lot={lot}")).await?;
    Ok(page
        .get("items")
        .and_then(Value::as_array)
        .cloned()
        .unwrap_or_default())
}

/// Releases what is ready of a sample; what is released, as certificates name it.
async fn release(people: &People, one: &Sampled, password: &str) -> Answer<Vec<Value>> {
    let named = |result: &Value| json!({"result": text(result, "id"), "version": version(result)});
    let ready: Vec<Value> = results(&people.reviewer, &one.sample)
        .await?
        .iter()
        .filter(|result| text(result, "state") == "ready")
        .map(named)
        .collect();
    if !ready.is_empty() {
        let body = json!({"meaning": "release", "results": ready, "password": password});
        if let Err(error) = people.reviewer.post("/reviews", &body).await {
            super::note("a release", &error);
        }
    }
    Ok(results(&people.reviewer, &one.sample)
        .await?
        .iter()
        .filter(|result| text(result, "state") == "released")
        .map(named)
        .collect())
}

/// One run was copied wrongly: it is corrected, the result released again, the certificate
/// replaced.
async fn amend(people: &People, one: &Sampled, password: &str) -> Answer<()> {
    let issued = certificates(&people.reviewer, &one.lot).await?;
    let [certificate] = issued.as_slice() else {
        return Ok(());
    };
    let runs = people
        .analyst
        .get(&format!("/runs?sample={}", one.sample))
        .await?;
    let Some(run) = runs.get("items").and_then(|items| items.get(0)) else {
        return Ok(());
    };
    let mut entry = run.clone();
    if let Some(members) = entry.as_object_mut() {
        for derived in [
            "id",
            "version",
            "state",
            "origins",
            "factor",
            "differences",
            "created_at",
            "changed_at",
            "holds",
        ] {
            members.remove(derived);
        }
        if let Some(value) = members
            .get_mut("readings")
            .and_then(|readings| readings.get_mut(0))
            .and_then(|reading| reading.get_mut("value"))
        {
            let read = value.as_str().unwrap_or_default().replace(".4", ".9");
            *value = Value::from(read);
        }
    }
    let correction = json!({"run": entry, "reason": {"code": "transcription-error",
        "text": "The last digit was read off the display wrongly."}});
    let path = format!("/runs/{}/correction", text(run, "id"));
    if let Err(error) = people
        .analyst
        .post_seen(&path, version(run), &correction)
        .await
    {
        super::note("the correction", &error);
        return Ok(());
    }
    let released = release(people, one, password).await?;
    let body = json!({"results": released, "reason": {"code": "transcription-error",
        "text": "A run was corrected after the certificate was issued."}});
    let path = format!("/certificates/{}/amendment", text(certificate, "id"));
    let amended = people
        .reviewer
        .post_seen(&path, version(certificate), &body)
        .await;
    if let Err(error) = amended {
        super::note("the amendment", &error);
    }
    Ok(())
}
