//! The walk of the README, as it stands there, on the demo laboratory.

use crate::harness::callers::serve;
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use std::{path::Path, process::Command};

const README: &str = include_str!("../README.md");
const PASSWORD: &str = "a password of this test";

/// The shell lines of the walk.
fn lines() -> &'static str {
    let (_, walk) = README.split_once("## A walk").unwrap();
    let (_, block) = walk.split_once("```sh\n").unwrap();
    block.split_once("```").unwrap().0
}

#[actix_web::test]
async fn the_walk_of_the_readme_goes_from_an_export_to_a_checked_certificate() {
    let app = serve().await;
    let owner = app.database.owner_url.clone();
    api::demo::load(&app.state, &owner, &app.base, PASSWORD)
        .await
        .unwrap();
    let room = std::env::temp_dir().join(format!("assize-walk-{}", std::process::id()));
    std::fs::create_dir_all(&room).unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_assize")).parent().unwrap();
    let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap());
    let mut walk = Command::new("bash");
    walk.args(["-c", lines()])
        .current_dir(&room)
        .env("PATH", path)
        .env("BASE", &app.base)
        .env("PASSWORD", PASSWORD);
    let walked = tokio::task::spawn_blocking(move || walk.output().unwrap())
        .await
        .unwrap();
    let said = String::from_utf8_lossy(&walked.stdout);
    let complained = String::from_utf8_lossy(&walked.stderr);
    assert!(walked.status.success(), "{said}\n{complained}");
    // 46 read after 100 µL + 500 µL: 46 x 6 = 276 (common practice, no source).
    let certificate = std::fs::read_to_string(room.join("certificate.json")).unwrap();
    let bundle: serde_json::Value = serde_json::from_str(&certificate).unwrap();
    assert_eq!(bundle["format"], 1);
    assert!(
        said.contains("8. passed: the pages are those of the bundle"),
        "{said}"
    );
    assert!(
        said.contains("7. passed: the certificate is signed by key"),
        "{said}"
    );
    assert!(said.contains("5. passed: "), "it is logged: {said}");
    let payload = bundle["certificate"]
        .as_str()
        .unwrap()
        .split('.')
        .nth(1)
        .unwrap();
    let payload = URL_SAFE_NO_PAD.decode(payload).unwrap();
    let payload: serde_json::Value = serde_json::from_slice(&payload).unwrap();
    assert_eq!(payload["results"][0]["reported"], "276.0", "{payload:#}");
    std::fs::remove_dir_all(&room).unwrap();

    // The demo and what the walk added to it stand in the read model as the records tell them.
    let checked = api::rebuild::check(&owner, None).await.unwrap();
    assert_eq!(checked.len(), 2, "the laboratory of the tests is there too");
    for laboratory in &checked {
        assert!(laboratory.is_equal(), "{laboratory}");
    }
    assert!(checked[1].records > 100, "{}", checked[1]);
}
