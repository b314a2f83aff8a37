//! Who works in the demo laboratory. All invented.

use super::{
    bench::Bench,
    caller::{Caller, text, version},
};
use crate::error::Answer;
use serde_json::{Value, json};

/// The demo's people, signed in, and its export client.
pub(crate) struct People {
    pub(crate) analyst: Caller,
    pub(crate) reviewer: Caller,
    pub(crate) quality: Caller,
    pub(crate) integrator: Caller,
    pub(crate) analyst_id: String,
    pub(crate) second_analyst_id: String,
}

const ACCOUNTS: [(&str, &str, &[&str]); 5] = [
    ("ines", "Inês Calado", &["analyst"]),
    ("joost", "Joost Verbrugge", &["analyst"]),
    ("ruth", "Ruth Adeyemi", &["reviewer"]),
    ("karel", "Karel Novotny", &["quality-manager"]),
    ("sabine", "Sabine Roth", &["regulator"]),
];

/// Registers whoever is missing, and signs them in.
pub(crate) async fn register(admin: &Caller, url: &str, password: &str) -> Answer<People> {
    for (login, name, roles) in ACCOUNTS {
        if admin.by_code("/accounts", "login", login).await?.is_none() {
            let account = json!({
                "account": {"login": login, "printed_name": name, "roles": roles},
                "password": password,
            });
            admin.post("/accounts", &account).await?;
        }
    }
    let id = async |login: &str| -> Answer<String> {
        let found = admin.by_code("/accounts", "login", login).await?;
        Ok(found
            .map(|account| text(&account, "id"))
            .unwrap_or_default())
    };
    let client = admin
        .post(
            "/clients",
            &json!({"name": format!("Export of bench 1, {password}")}),
        )
        .await?;
    let integrator = Caller::with(
        url,
        &json!({"client": client.get("id"), "secret": client.get("secret")}),
    )
    .await?;
    Ok(People {
        analyst: Caller::sign_in(url, "ines", password).await?,
        reviewer: Caller::sign_in(url, "ruth", password).await?,
        quality: Caller::sign_in(url, "karel", password).await?,
        integrator,
        analyst_id: id("ines").await?,
        second_analyst_id: id("joost").await?,
    })
}

/// Authorises the analysts for the procedures that they run.
pub(crate) async fn authorise(admin: &Caller, people: &People, bench: &Bench) -> Answer<()> {
    for (id, place) in [(&people.analyst_id, 0), (&people.second_analyst_id, 1)] {
        let account = admin.get(&format!("/accounts/{id}")).await?;
        if account.get("authorisations").is_some() {
            continue;
        }
        let (login, name, roles) = ACCOUNTS.get(place).copied().unwrap_or_default();
        let may: Vec<Value> = [&bench.aflatoxin_procedure, &bench.vomitoxin_procedure]
            .into_iter()
            .map(|procedure| json!({"procedure": procedure, "from": "2025-01-07"}))
            .collect();
        let revised = json!({
            "account": {"login": login, "printed_name": name, "roles": roles,
                "authorisations": may},
            "reason": {"code": "late-information", "text": "Competence was shown in January."},
        });
        admin
            .put(&format!("/accounts/{id}"), version(&account), &revised)
            .await?;
    }
    Ok(())
}

/// The accounts, for people to read.
pub(crate) fn list(password: &str) -> String {
    let mut lines = format!("  olive    administrator      {password}\n");
    for (login, _, roles) in ACCOUNTS {
        lines.push_str(&format!(
            "  {login:<8} {:<18} {password}\n",
            roles.join(", ")
        ));
    }
    lines
}
