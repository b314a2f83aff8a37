//! Pages as HTML, compared with what was looked at before.
//!
//! What differs from run to run is named in its place: ids by the order in which they first stand
//! on the page, and times of the clock.

use super::reviewer::morning;
use crate::{certificates, harness::callers::serve, permissions::project};

fn is_id(text: &str) -> bool {
    text.char_indices().all(|(place, letter)| match place {
        8 | 13 | 18 | 23 => letter == '-',
        _ => letter.is_ascii_digit() || ('a'..='f').contains(&letter),
    })
}

/// Ids by the order in which they first stand there.
fn ids_named(html: &str) -> String {
    let mut known: Vec<String> = Vec::new();
    let mut named = String::new();
    let mut rest = html;
    while let Some(letter) = rest.chars().next() {
        let taken = match rest.get(..36).filter(|text| is_id(text)) {
            Some(id) => {
                let place = known.iter().position(|one| one == id).unwrap_or_else(|| {
                    known.push(id.to_owned());
                    known.len() - 1
                });
                named.push_str(&format!("id-{}", place + 1));
                36
            }
            None => {
                named.push(letter);
                letter.len_utf8()
            }
        };
        rest = rest.get(taken..).unwrap_or_default();
    }
    named
}

/// Times that the clock gave, which those of the fixtures are not.
fn times_named(html: &str) -> String {
    let mut parts = html.split("<time ");
    let mut named = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (time, after) = part.split_once("</time>").unwrap();
        if time.contains("datetime=\"2026-03-01") {
            named.push_str(&format!("<time {time}</time>"));
        } else {
            named.push_str("<time>of the clock</time>");
        }
        named.push_str(after);
    }
    named
}

fn compare(name: &str, html: &str, also: &[(&str, &str)]) {
    let mut plain = times_named(&ids_named(html));
    for (what, by) in also {
        plain = plain.replace(what, by);
    }
    insta::with_settings!({
        snapshot_path => project().join("tests/pages/snapshots"),
        prepend_module_to_snapshot => false,
        omit_expression => true,
    }, {
        insta::assert_snapshot!(name, plain);
    });
}

#[actix_web::test]
async fn the_queue_and_the_sample_look_as_they_did() {
    let app = serve().await;
    let (_bench, [diluted, held, _due]) = morning(&app).await;
    let reviewer = app.reviewer().await;
    let (status, queue) = reviewer.page("review").await;
    assert_eq!(status, 200);
    compare("queue", &queue, &[]);
    let (status, sample) = reviewer.page(&format!("samples/{diluted}")).await;
    assert_eq!(status, 200);
    compare("sample_diluted", &sample, &[]);
    let (status, sample) = reviewer.page(&format!("samples/{held}")).await;
    assert_eq!(status, 200);
    compare("sample_held", &sample, &[]);
}

#[actix_web::test]
async fn the_check_page_looks_as_it_did() {
    let app = serve().await;
    let bench = certificates::bench(&app).await;
    let issued = bench.issued().await;
    let number = issued.body["number"].as_str().unwrap();
    let address = certificates::link(&issued, "check");
    let code = address.rsplit('/').next().unwrap();
    let (status, page) = certificates::page(&app, &format!("/c/{code}")).await;
    assert_eq!(status, 200);
    let also = [
        (number, "NUMBER"),
        (code, "CODE"),
        (app.base.as_str(), "BASE"),
    ];
    compare("check", &page, &also);
}
