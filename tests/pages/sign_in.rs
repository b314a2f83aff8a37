//! Sign-in and sign-out as a browser does them, without a browser.

use crate::harness::callers::{LAB, PASSWORD, TestApp, serve};
use reqwest::{Client, Response, header, redirect::Policy};

fn client() -> Client {
    Client::builder().redirect(Policy::none()).build().unwrap()
}

async fn post(app: &TestApp, path: &str, origin: &str, body: String) -> Response {
    client()
        .post(format!("{}{path}", app.base))
        .header(header::ORIGIN, origin)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(body)
        .send()
        .await
        .unwrap()
}

async fn get(app: &TestApp, path: &str, cookie: &str) -> Response {
    client()
        .get(format!("{}{path}", app.base))
        .header(header::COOKIE, cookie)
        .header(header::ACCEPT, "text/html")
        .send()
        .await
        .unwrap()
}

fn text_of(response: &Response, name: header::HeaderName) -> String {
    response
        .headers()
        .get(name)
        .map(|value| value.to_str().unwrap().to_owned())
        .unwrap_or_default()
}

#[actix_web::test]
async fn a_person_signs_in_sees_a_page_and_signs_out() {
    let app = serve().await;
    let lost = get(&app, &format!("/{LAB}/certificates?limit=20"), "").await;
    assert_eq!(lost.status(), 303);
    let sign_in = text_of(&lost, header::LOCATION);
    assert_eq!(
        sign_in,
        format!("/{LAB}/sign-in?back=%2F{LAB}%2Fcertificates%3Flimit%3D20")
    );
    let form = get(&app, &sign_in, "").await.text().await.unwrap();
    assert!(form.contains(&format!("value=\"/{LAB}/certificates?limit=20\"")));

    let password = PASSWORD.replace(' ', "+");
    let given = format!("login=admin&password={password}&back=%2F{LAB}%2Fcertificates");
    let signed_in = post(&app, &format!("/{LAB}/sign-in"), &app.base, given).await;
    assert_eq!(signed_in.status(), 303);
    assert_eq!(
        text_of(&signed_in, header::LOCATION),
        format!("/{LAB}/certificates")
    );
    let set = text_of(&signed_in, header::SET_COOKIE);
    for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=900"] {
        assert!(set.contains(part), "{part} in {set}");
    }
    let cookie = set.split(';').next().unwrap().to_owned();

    let page = get(&app, &format!("/{LAB}/certificates"), &cookie).await;
    assert_eq!(page.status(), 200);
    assert_eq!(text_of(&page, header::CACHE_CONTROL), "no-store");
    assert!(text_of(&page, header::CONTENT_SECURITY_POLICY).contains("default-src 'none'"));
    let page = page.text().await.unwrap();
    assert!(page.contains("No certificates are in force."), "{page}");
    assert!(page.contains("Quay Grain Laboratory") && page.contains("Ana Faria"));

    let elsewhere = get(&app, "/another/certificates", &cookie).await;
    assert_eq!(elsewhere.status(), 303, "signed in at one laboratory only");

    let out = post(&app, &format!("/{LAB}/sign-out"), &app.base, String::new()).await;
    assert_eq!(out.status(), 303);
    assert!(text_of(&out, header::SET_COOKIE).contains("Max-Age=0"));
}

#[actix_web::test]
async fn what_sign_in_refuses() {
    let app = serve().await;
    let path = format!("/{LAB}/sign-in");
    let password = PASSWORD.replace(' ', "+");
    let given = format!("login=admin&password={password}");

    let foreign = post(&app, &path, "https://example.org", given.clone()).await;
    assert_eq!(foreign.status(), 403);
    assert_eq!(text_of(&foreign, header::SET_COOKIE), "");

    let wrong = post(&app, &path, &app.base, "login=%3Cb%3E&password=x".into()).await;
    assert_eq!(wrong.status(), 401);
    let page = wrong.text().await.unwrap();
    assert!(page.contains("do not go together"), "{page}");
    assert!(
        page.contains("value=\"&#60;b&#62;\""),
        "typed text is kept, and escaped: {page}"
    );

    let away = format!("{given}&back=%2F%2Fexample.org%2F");
    let stays = post(&app, &path, &app.base, away).await;
    assert_eq!(text_of(&stays, header::LOCATION), format!("/{LAB}/samples"));
}

#[actix_web::test]
async fn a_refusal_is_a_page_for_people_and_a_document_for_programs() {
    let app = serve().await;
    let page = get(&app, "/nowhere/at/all", "").await;
    assert_eq!(page.status(), 404);
    assert!(text_of(&page, header::CONTENT_TYPE).starts_with("text/html"));
    let document = app.anonymous().get("v1/nowhere").await;
    assert_eq!(document.problem(), "not-found");
    let explained = get(&app, "/problems/stale-version", "").await;
    assert!(explained.text().await.unwrap().contains("If-Match"));
    assert_eq!(get(&app, "/problems/no-such-thing", "").await.status(), 404);
    let docs = get(&app, "/docs/", "").await;
    let docs = get(&app, &text_of(&docs, header::LOCATION), "").await;
    assert_eq!(docs.status(), 200, "the API is described at /docs");
    assert_eq!(get(&app, "/nowhere", "").await.status(), 404);
    let front = get(&app, &format!("/{LAB}"), "").await;
    assert_eq!(text_of(&front, header::LOCATION), format!("/{LAB}/sign-in"));
    let style = get(&app, "/assets/assize.css", "").await;
    assert!(text_of(&style, header::CACHE_CONTROL).contains("immutable"));
}
