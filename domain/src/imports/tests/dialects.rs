//! Every dialect reads back what an independent writer wrote; no bytes make a panic.

use proptest::prelude::*;
use serde_json::json;

use super::super::*;
use super::map;

#[derive(Debug, Clone)]
struct Written {
    port: u8,
    second: u32,
    sample: String,
    whole: u32,
    places: String,
    kind: u8,
    comment: String,
}

fn written() -> impl Strategy<Value = Written> {
    (
        1..10_u8,
        0..60_u32,
        "[ -~äöüßéµ€]{0,12}",
        0..9_999_999_u32,
        "[0-9]{0,4}",
        0..5_u8,
        "[a-z;,\t\"'ß ]{0,6}(\r\n|\n)?[a-z;,\t\" ]{0,6}",
    )
        .prop_map(
            |(port, second, sample, whole, places, kind, comment)| Written {
                port,
                second,
                sample: sample.trim().to_owned(),
                whole,
                places,
                kind,
                comment,
            },
        )
}

impl Written {
    fn plain(&self) -> String {
        if self.places.is_empty() {
            self.whole.to_string()
        } else {
            format!("{}.{}", self.whole, self.places)
        }
    }

    fn localised(&self, decimal: char, thousands: Option<char>) -> String {
        let digits = self.whole.to_string();
        let mut whole = String::new();
        for (at, digit) in digits.chars().enumerate() {
            if let Some(mark) = thousands
                && at > 0
                && (digits.len() - at).is_multiple_of(3)
            {
                whole.push(mark);
            }
            whole.push(digit);
        }
        if self.places.is_empty() {
            whole
        } else {
            format!("{whole}{decimal}{}", self.places)
        }
    }

    fn with_kind(&self, number: &str) -> String {
        // Nothing is below zero.
        let zero = self.plain().bytes().all(|b| b == b'0' || b == b'.');
        match self.kind {
            0 if !zero => format!("<{number}"),
            1 => format!(">{number}"),
            2 => "not-detected".into(),
            3 => "invalid".into(),
            _ => number.to_owned(),
        }
    }
}

fn write(
    rows: &[Written],
    delimiter: u8,
    marks: (char, Option<char>),
    line_end: csv::Terminator,
) -> String {
    let mut writer = csv::WriterBuilder::new()
        .delimiter(delimiter)
        .terminator(line_end)
        .from_writer(Vec::new());
    let header = ["Reader ", "PORT", "read", "sample", "value", "comment"];
    writer.write_record(header).unwrap();
    for row in rows {
        let time = format!("2026-03-07 14:05:{:02}", row.second);
        let value = row.with_kind(&row.localised(marks.0, marks.1));
        let port = row.port.to_string();
        let fields = ["R-1", &port, &time, &row.sample, &value, &row.comment];
        writer.write_record(fields).unwrap();
    }
    String::from_utf8(writer.into_inner().unwrap()).unwrap()
}

fn encoded(text: &str) -> Vec<(&'static str, Vec<u8>)> {
    let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let marked = |mark: &[u8], bytes: &[u8]| [mark, bytes].concat();
    vec![
        ("auto", text.as_bytes().to_vec()),
        ("auto", marked(b"\xEF\xBB\xBF", text.as_bytes())),
        ("utf-8", text.as_bytes().to_vec()),
        ("auto", marked(b"\xFF\xFE", &little)),
        ("auto", marked(b"\xFE\xFF", &big)),
        ("utf-16", little),
        ("utf-16", big),
        (
            "windows-1252",
            encoding_rs::WINDOWS_1252.encode(text).0.into_owned(),
        ),
    ]
}

fn check(rows: &[Written], bytes: &[u8], map: &CheckedColumnMap) {
    let export = parse(bytes, map).unwrap();
    assert_eq!(export.rows.len(), rows.len());
    for (read, wrote) in export.rows.iter().zip(rows) {
        let row = read.outcome.as_ref().unwrap();
        let sample = (!wrote.sample.is_empty()).then_some(wrote.sample.as_str());
        assert_eq!(row.run.port, wrote.port);
        assert_eq!(row.run.sample_code.as_deref(), sample);
        assert_eq!(
            row.run.read_at.at.to_string(),
            format!("2026-03-07T13:05:{:02}.000000Z", wrote.second)
        );
        assert_eq!(
            value_text(&row.readings[0].reading),
            wrote.with_kind(&wrote.plain())
        );
        let words = |text: &str| text.split_whitespace().collect::<String>();
        assert_eq!(
            words(row.comment.as_deref().unwrap_or_default()),
            words(&wrote.comment)
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn every_dialect_reads_back_what_was_written(
        rows in proptest::collection::vec(written(), 0..6),
    ) {
        let marks = [
            ("point", '.', None, None),
            ("point", '.', Some("comma"), Some(',')),
            ("point", '.', Some("space"), Some('\u{a0}')),
            ("comma", ',', None, None),
            ("comma", ',', Some("point"), Some('.')),
            ("comma", ',', Some("apostrophe"), Some('\'')),
        ];
        let delimiters = [("comma", b','), ("semicolon", b';'), ("tab", b'\t')];
        for (decimal_name, decimal, thousands_name, thousands) in marks {
            for (delimiter_name, delimiter) in delimiters {
                for line_end in [csv::Terminator::CRLF, csv::Terminator::Any(b'\n')] {
                    let text = write(&rows, delimiter, (decimal, thousands), line_end);
                    for (encoding, bytes) in encoded(&text) {
                        for delimiter in [delimiter_name, "auto"] {
                            let mut change = json!({
                                "encoding": encoding, "delimiter": delimiter,
                                "decimal_mark": decimal_name,
                                "words": {"not_detected": ["not-detected"]},
                                "columns": {"comment": "comment"},
                                "readings": {"by_row": {
                                    "analyte": {"fixed": "zearalenone"}, "value": "value",
                                    "unit": {"fixed": "ug/kg"}
                                }},
                            });
                            if let Some(name) = thousands_name {
                                change["thousands_mark"] = json!(name);
                            }
                            check(&rows, &bytes, &map(change));
                        }
                    }
                }
            }
        }
    }

}

proptest! {
    #[test]
    fn rubbish_is_refused_and_never_panics(
        bytes in proptest::collection::vec(any::<u8>(), 0..300),
        text in "[ -~\r\n\t\"<>.,;µ\u{2212}]{0,300}",
    ) {
        let header = "reader,port,read,sample,test,value,unit\n";
        for encoding in ["auto", "utf-8", "utf-16", "windows-1252"] {
            let map = map(json!({"encoding": encoding}));
            drop(parse(&bytes, &map).map(group));
            drop(parse(text.as_bytes(), &map).map(group));
            for rest in [bytes.as_slice(), text.as_bytes()] {
                drop(parse(&[header.as_bytes(), rest].concat(), &map).map(group));
            }
        }
    }

    #[test]
    fn any_row_is_refused_or_makes_a_run_that_can_be_entered(
        cell in ".{0,40}|[0-9.,<> -]{0,12}|[0-9]{1,28}",
        at in 0..9_usize,
    ) {
        let mut cells =
            ["R-1", "2", "2026-03-07 14:05:09", "S", "zearalenone", "8", "ug/kg", "100", "500"];
        cells[at] = &cell;
        let map = map(json!({
            "dilution_volumes": [{"sample_volume": "taken", "diluent_volume": "added"}]
        }));
        let mut writer = csv::Writer::from_writer(Vec::new());
        let header = format!("{},taken,added", super::HEADER.trim());
        writer.write_record(header.split(',')).unwrap();
        writer.write_record(cells).unwrap();
        let bytes = writer.into_inner().unwrap();
        let export = group(parse(&bytes, &map).unwrap());
        prop_assert_eq!(export.runs.len() + export.faulty.len(), 1);
        for run in export.runs {
            let checked = run.entry("water").check(&crate::runs::RunContext::default());
            prop_assert_eq!(checked, Ok(()));
        }
    }
}

#[test]
fn an_encoding_that_is_not_the_stated_one_is_refused_with_what_to_do() {
    let text = "reader,port,read,sample,test,value,unit\nR-ä,1\n";
    let latin = encoding_rs::WINDOWS_1252.encode(text).0.into_owned();
    let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    for (encoding, bytes, advice) in [
        ("auto", latin.as_slice(), "windows-1252"),
        ("utf-8", latin.as_slice(), "windows-1252"),
        ("auto", little.as_slice(), "utf-16"),
        ("utf-16", b"\xEF\xBB\xBFreader".as_slice(), "auto"),
        ("utf-16", b"\xFF\xFEa".as_slice(), "odd number"),
        ("windows-1252", b"\xFF\xFEa\0".as_slice(), "auto"),
        ("windows-1252", b"read\x81r".as_slice(), "byte 5"),
        ("auto", "reader,µ".as_bytes().get(..8).unwrap(), "cut off"),
    ] {
        let refusal = parse(bytes, &map(json!({"encoding": encoding}))).unwrap_err();
        assert!(
            matches!(refusal, ExportRefusal::WrongEncoding { .. }),
            "{refusal}"
        );
        assert!(refusal.to_string().contains(advice), "{refusal}");
    }
}

#[test]
fn a_spreadsheets_own_line_for_the_delimiter_is_taken() {
    for (line, delimiter) in [("sep=;\r\n", ";"), ("SEP=\t\n", "\t"), ("sep=,\n", ",")] {
        let body = format!("{}{}\n", super::HEADER, super::ROW).replace(',', delimiter);
        let export = parse(format!("{line}{body}").as_bytes(), &map(json!({}))).unwrap();
        assert_eq!((export.rows.len(), export.rows[0].line), (1, 3));
        assert!(export.rows[0].outcome.is_ok());
    }
}

#[test]
fn lines_above_the_header_row_are_skipped_and_counted() {
    let map = map(json!({"lines_before_header": 2}));
    let text = format!(
        "Export of \"today\nall,rows\n{}{}\n",
        super::HEADER,
        super::ROW
    );
    let export = parse(text.as_bytes(), &map).unwrap();
    assert_eq!(export.rows[0].line, 4);
    assert!(export.rows[0].outcome.is_ok());
}
