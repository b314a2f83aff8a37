//! Listing limits.

use super::intake_level;
use crate::harness::callers::serve;
use serde_json::Value;

fn codes(body: &Value) -> Vec<String> {
    let items = body["items"].as_array().unwrap();
    items
        .iter()
        .map(|item| item["code"].as_str().unwrap().to_owned())
        .collect()
}

#[actix_web::test]
async fn shipped_and_own_limits_stand_in_one_list_by_code() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    manager.post("/limits", intake_level()).await.expect(201);
    let shipped = domain::limits::shipped_limits().unwrap().len();

    let mut seen = Vec::new();
    let mut next = Some("/limits?limit=100".to_owned());
    while let Some(path) = next {
        let page = manager.get(&path).await.expect(200);
        seen.extend(codes(&page.body));
        next = page.link.map(|link| {
            let (address, _) = link.trim_start_matches('<').split_once('>').unwrap();
            address.to_owned()
        });
    }
    assert_eq!(seen.len(), shipped + 1);
    assert!(seen.is_sorted());
    assert!(seen.contains(&"intake-wheat-don".to_owned()));

    for (query, every) in [
        ("state=adopted", 0),
        ("authority=intake", 1),
        ("state=proposed&analyte=deoxynivalenol&authority=intake", 1),
        ("authority=intake&commodity=maize-grain", 0),
        ("authority=intake&commodity=wheat-grain&use=food-sorting", 1),
    ] {
        let found = manager.get(&format!("/limits?{query}")).await.expect(200);
        assert_eq!(codes(&found.body).len(), every, "{query}");
    }
    let of_eu = manager
        .get("/limits?jurisdiction=EU&analyte=aflatoxin-b1&commodity=maize-grain&limit=200")
        .await
        .expect(200);
    let of_eu = codes(&of_eu.body);
    assert!(of_eu.contains(&"eu-food-maize-rice-sorting-afb1".to_owned()));
    assert!(of_eu.iter().all(|code| code.starts_with("eu-")));
    let unknown = manager.get("/limits?commodity=corn").await.expect(400);
    assert_eq!(unknown.problem(), "malformed");
}
