//! The dialects in which readers export. Which there are is *common practice, no source*; quoting
//! is RFC 4180 section 2.

use super::{drafted, import, map};
use crate::harness::{callers::serve, fixtures::bench_of};
use serde_json::{Value, json};

/// An export with a sample whose code has letters beyond ASCII, in a dialect.
fn text(hour: u32, delimiter: &str, value: &str, end: &str) -> String {
    let header = "Reader,Port,Read,Sample,Kit lot,Operator,Test,Result,Unit,Remark";
    let row = format!(
        "R-1,2,01.03.2026 {hour:02}:06:00,Größe-1,AF-118,KM,AFLA,@,µg/kg,\"two{end}lines\""
    );
    format!("{header}{end}{row}{end}")
        .replace(',', delimiter)
        .replace('@', value)
}

fn utf16(text: &str, little: bool) -> Vec<u8> {
    let mark = std::iter::once(0xFEFF);
    mark.chain(text.encode_utf16())
        .flat_map(|unit| {
            if little {
                unit.to_le_bytes()
            } else {
                unit.to_be_bytes()
            }
        })
        .collect()
}

/// Windows-1252 has these letters where Unicode has them.
fn windows_1252(text: &str) -> Vec<u8> {
    text.chars()
        .map(|letter| u8::try_from(u32::from(letter)).unwrap())
        .collect()
}

#[actix_web::test]
async fn every_dialect_is_read_as_the_same_reading() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut point = map(&bench, "Point");
    let columns = &mut point["columns"];
    for name in ["started_at", "lot_code", "curve_lot_code", "matrix"] {
        columns.as_object_mut().unwrap().remove(name);
    }
    point.as_object_mut().unwrap().remove("dilution_volumes");
    let mut comma = point.clone();
    (comma["name"], comma["decimal_mark"]) = (json!("Comma"), json!("comma"));
    comma["thousands_mark"] = json!("point");
    let mut western = comma.clone();
    (western["name"], western["encoding"]) = (json!("Western"), json!("windows-1252"));
    let point = drafted(&bench, point).await;
    let comma = drafted(&bench, comma).await;
    let western = drafted(&bench, western).await;
    let marked = |text: String| [b"\xEF\xBB\xBF".as_slice(), text.as_bytes()].concat();
    let cases: [(&str, Vec<u8>, &str, &str); 8] = [
        (
            &point,
            text(1, ",", "4.10", "\r\n").into_bytes(),
            "utf-8",
            "comma",
        ),
        (
            &point,
            text(2, "\t", "4.10", "\n").into_bytes(),
            "utf-8",
            "tab",
        ),
        (
            &comma,
            text(3, ";", "4,10", "\r\n").into_bytes(),
            "utf-8",
            "semicolon",
        ),
        (
            &comma,
            marked(text(4, ";", "4,10", "\r\n")),
            "utf-8",
            "semicolon",
        ),
        (
            &comma,
            utf16(&text(5, "\t", "4,10", "\r\n"), true),
            "utf-16le",
            "tab",
        ),
        (
            &comma,
            utf16(&text(6, ";", "4,10", "\r\n"), false),
            "utf-16be",
            "semicolon",
        ),
        (
            &western,
            windows_1252(&text(7, ";", "4,10", "\r\n")),
            "windows-1252",
            "semicolon",
        ),
        (
            &comma,
            format!("sep=;\r\n{}", text(8, ";", "4,10", "\r\n")).into_bytes(),
            "utf-8",
            "semicolon",
        ),
    ];
    for (by_map, bytes, encoding, delimiter) in cases {
        let done = import(&bench.analyst, by_map, bytes).await.expect(201);
        assert_eq!(done.body["encoding"], encoding);
        assert_eq!(done.body["delimiter"], delimiter);
        assert_eq!(done.body["counts"]["recorded"], 1, "{:#}", done.body);
        let id = done.body["rows"][0]["run"].as_str().unwrap();
        let run = bench.analyst.get(&format!("/runs/{id}")).await.expect(200);
        assert_eq!(run.body["readings"][0]["value"], "4.10");
        assert_eq!(run.body["readings"][0]["unit"], "ug/kg");
        assert_eq!(run.body["sample_code"], "Größe-1");
        assert_eq!(run.body["operator"], "KM");
    }
    let mistaken = import(
        &bench.analyst,
        &point,
        windows_1252(&text(9, ",", "4.1", "\n")),
    )
    .await
    .expect(422);
    assert!(
        mistaken.body["detail"]
            .as_str()
            .unwrap()
            .contains("windows-1252")
    );
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn values_that_are_no_plain_numbers_are_kept_as_what_they_say() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by_map = drafted(&bench, map(&bench, "Bay 1")).await;
    let rows: Vec<String> = ["<2", ">50", "ND", "INVALID", "0.82"]
        .iter()
        .zip([0, 10, 20, 30, 40])
        .map(|(value, minute)| {
            let unit = if *value == "0.82" { "mg/kg" } else { "ppb" };
            super::row(minute, "S-1", value).replace("ppb", unit)
        })
        .collect();
    let done = import(&bench.analyst, &by_map, super::export(&rows))
        .await
        .expect(201);
    let mut kinds = Vec::new();
    for row in done.body["rows"].as_array().unwrap() {
        let id = row["run"].as_str().unwrap();
        let run = bench.analyst.get(&format!("/runs/{id}")).await.expect(200);
        let reading: &Value = &run.body["readings"][0];
        kinds.push(reading["kind"].as_str().unwrap().to_owned());
    }
    assert_eq!(
        kinds,
        ["below", "above", "not-detected", "invalid", "number"]
    );
}
