//! The samples of the API document: each is answered, and those of worked examples name one.

use crate::{
    harness::callers::serve,
    openapi::{document, operations},
    permissions::project,
};

/// The ids of the worked examples.
fn examples() -> String {
    let folder = project().join("tests/worked_examples");
    let files = std::fs::read_dir(folder).unwrap();
    files
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect()
}

#[actix_web::test]
async fn every_sample_is_answered_and_comes_from_where_it_says() {
    let app = serve().await;
    let caller = app.integrator().await;
    let examples = examples();
    let mut wrong = Vec::new();
    let mut asked = 0;
    for operation in operations(&document()) {
        if operation.body["tags"][0] != "calculator" {
            continue;
        }
        let id = operation.id;
        asked += 1;
        let sample =
            operation.body["requestBody"]["content"]["application/json"]["example"].clone();
        let drawn = &operation.body["responses"]["200"]["content"]["image/svg+xml"];
        if !drawn.is_null() {
            let answer = caller
                .post_raw(&operation.path, "\"no key is needed\"", &sample)
                .await;
            let svg = answer.text().await.unwrap();
            if !svg.starts_with("<svg ") || !svg.contains("<title ") || svg.contains("NaN") {
                wrong.push(format!("{id}: {svg}"));
            }
            continue;
        }
        let answer = caller.post(&operation.path, sample).await;
        if answer.status != 200 || answer.body.as_object().is_none_or(|all| all.is_empty()) {
            wrong.push(format!("{id}: {} {}", answer.status, answer.body));
        }
        let words = operation.body["description"].as_str().unwrap();
        let named = words.split("worked example ").nth(1);
        let named = named.map(|rest| rest.trim_end_matches('.'));
        if let Some(example) = named
            && !examples.contains(&format!("id = \"{example}\""))
        {
            wrong.push(format!("{id}: there is no worked example {example}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(asked >= 78, "only {asked} computations have an address");
}
