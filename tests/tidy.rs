//! The style that no compiler checks: one writer a table, slices that keep to their rooms, files
//! and lines that end, no floats among measurements. Each message names the remedy.

use crate::permissions::project;
use std::path::{Path, PathBuf};

/// Files longer than 400 lines, with how long they are at the most. May only shrink.
const LONG: &[(&str, usize)] = &[];

/// Modules of a slice that others reach beside its `mod.rs`, `store` and `pages` (whose routes
/// `api/src/pages.rs` gathers). May only shrink.
const REACHED: &[(&str, &str)] = &[("identity", "tokens"), ("lots", "words")];

/// Files that write to tables and are no `store.rs`. May only shrink.
const WRITERS: &[(&str, &str)] = &[
    (
        "api/src/db/reference.rs",
        "the door: the count of changes of what many samples share",
    ),
    (
        "api/src/db/answers.rs",
        "the door: answers that are kept for a repeat",
    ),
    (
        "api/src/db/blanking.rs",
        "the door: those answers, made again without what was erased",
    ),
    (
        "api/src/kept.rs",
        "the macro by which a store writes its own table",
    ),
];

const MOST_LINES: usize = 400;
const LONGEST_LINE: usize = 100;

/// Every Rust source below some directories: path from the project's root, text.
pub(crate) fn sources(directories: &[&str]) -> Vec<(String, String)> {
    let mut files = Vec::new();
    for directory in directories {
        collect(&project().join(directory), &mut files);
    }
    files.sort();
    files
        .into_iter()
        .filter(|path| path.extension().is_some_and(|ending| ending == "rs"))
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            (name_of(&path), text)
        })
        .collect()
}

fn name_of(path: &Path) -> String {
    let name = path.strip_prefix(project()).unwrap();
    name.to_string_lossy().into_owned()
}

fn collect(directory: &Path, files: &mut Vec<PathBuf>) {
    if !directory.is_dir() {
        return;
    }
    for entry in std::fs::read_dir(directory).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(&path, files);
        } else {
            files.push(path);
        }
    }
}

fn is_test(file: &str) -> bool {
    file.starts_with("tests/")
        || file.contains("/tests/")
        || file.ends_with("/tests.rs")
        || file.ends_with("_tests.rs")
}

/// The lines of a file before its tests.
fn lines_of_code(text: &str) -> usize {
    let end = text.find("\n#[cfg(test)]\nmod ").unwrap_or(text.len());
    text.get(..end).unwrap_or(text).lines().count()
}

#[test]
fn tidy_files_and_lines_end() {
    let mut wrong = Vec::new();
    for (file, text) in sources(&["api/src", "domain/src"]) {
        if is_test(&file) || file.ends_with("/schema.rs") {
            continue;
        }
        let most = LONG
            .iter()
            .find(|(long, _)| *long == file)
            .map_or(MOST_LINES, |(_, most)| *most);
        let lines = lines_of_code(&text);
        if lines > most {
            wrong.push(format!(
                "{file} has {lines} lines, {most} is the most: move a part with a name of its own \
                 into a file of that name"
            ));
        }
    }
    for (long, most) in LONG {
        let lines =
            std::fs::read_to_string(project().join(long)).map_or(0, |text| lines_of_code(&text));
        if lines <= MOST_LINES || lines + 50 < *most {
            wrong.push(format!(
                "{long} has {lines} lines now: say so in LONG, or take it out"
            ));
        }
    }
    for (file, text) in sources(&[
        "api/src",
        "api/benches",
        "domain/src",
        "domain/tests",
        "tests",
    ]) {
        let mut in_attribute = false;
        for (number, line) in text.lines().enumerate() {
            let begins = line.trim_start().starts_with("#[");
            in_attribute |= begins;
            if line.chars().count() > LONGEST_LINE && !in_attribute && !holds_text(line) {
                wrong.push(format!(
                    "{file}:{} is longer than {LONGEST_LINE} characters: break it",
                    number + 1
                ));
            }
            if in_attribute && line.trim_end().ends_with(']') {
                in_attribute = false;
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A line of a table or of quoted text, which breaking would not make easier to read.
fn holds_text(line: &str) -> bool {
    line.contains("]: [")
        || line.contains('"')
        || line.contains("http")
        || line.contains("= [")
        || line.contains("\": [")
}

#[test]
fn tidy_files_say_what_they_promise() {
    let mut wrong = Vec::new();
    for (file, text) in sources(&["api/src", "domain/src", "tests", "domain/tests"]) {
        if !text.starts_with("//!") && !file.ends_with("/schema.rs") {
            wrong.push(format!(
                "{file}: begin with //! and what it promises and refuses"
            ));
        }
        let stem = Path::new(&file).file_stem().unwrap_or_default();
        let parent = Path::new(&file).parent().and_then(Path::file_name);
        for name in [Some(stem), parent].into_iter().flatten() {
            if ["utils", "util", "helpers", "common", "services"]
                .contains(&&*name.to_string_lossy())
            {
                wrong.push(format!(
                    "{file}: a word that says nothing; move it to what it is about"
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn tidy_measurements_are_exact() {
    let mut wrong = Vec::new();
    for (file, text) in sources(&["domain/src"]) {
        if file.starts_with("domain/src/statistics") || is_test(&file) {
            continue;
        }
        let lines: Vec<&str> = text.lines().collect();
        for (number, line) in lines.iter().enumerate() {
            let above = lines.iter().take(number).rev().take(6);
            if above
                .into_iter()
                .any(|line| line.contains("clippy::disallowed_types"))
            {
                continue; // with its reason, which the compiler asks for
            }
            let code = line.split("//").next().unwrap_or_default();
            let words = code.split(|c: char| !c.is_alphanumeric() && c != '_');
            if words.into_iter().any(|word| word == "f32" || word == "f64") {
                wrong.push(format!(
                    "{file}:{}: a float; decimals everywhere but in statistics/",
                    number + 1
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn tidy_nothing_names_the_machine_it_was_written_on() {
    let mut files = Vec::new();
    for directory in ["api", "domain", "tests", "migrations", "openapi", ".ci"] {
        collect(&project().join(directory), &mut files);
    }
    for file in [
        "dev",
        "Dockerfile",
        "docker-compose.yml",
        "README.md",
        "DEVELOPERS.md",
    ] {
        files.push(project().join(file));
    }
    let signs = [
        concat!("/wo", "rk/"),
        concat!("/ho", "me/"),
        concat!("/ro", "ot/"),
    ];
    let mut wrong = Vec::new();
    for file in files {
        let Ok(text) = std::fs::read_to_string(&file) else {
            continue;
        };
        for sign in signs {
            if text.contains(sign) {
                wrong.push(format!("{}: names {sign}; say it without", name_of(&file)));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The slices: directories of `api/src` with a `mod.rs`.
fn slices() -> Vec<String> {
    let mut found: Vec<String> = std::fs::read_dir(project().join("api/src"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.join("mod.rs").is_file())
        .map(|path| path.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    found.sort();
    found
}

/// The slice whose table it is: the longest one whose word begins its name.
fn owner<'s>(slices: &'s [String], table: &str) -> Option<&'s String> {
    slices
        .iter()
        .filter(|slice| {
            table
                .strip_prefix(slice.as_str())
                .is_some_and(|rest| rest.starts_with('_'))
        })
        .max_by_key(|slice| slice.len())
}

/// The tables that a source writes to, by SQL or by diesel.
fn written(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for sign in ["INSERT INTO ", "UPDATE ", "DELETE FROM ", "TRUNCATE "] {
        for (_, rest) in text
            .match_indices(sign)
            .map(|(at, _)| text.split_at(at + sign.len()))
        {
            let name = word(rest.trim_start());
            if name.contains('_') && name.chars().all(|c| c.is_ascii_lowercase() || c == '_') {
                found.push(name.to_owned());
            }
        }
    }
    for sign in [
        "insert_into(",
        "diesel::update(",
        "diesel::delete(",
        "replace_into(",
    ] {
        for (_, rest) in text
            .match_indices(sign)
            .map(|(at, _)| text.split_at(at + sign.len()))
        {
            let path: Vec<&str> = rest.trim_start().split("::").take(3).map(word).collect();
            let table = match path.as_slice() {
                [alias, "table", ..] => named(text, alias),
                [_module, table, ..] => (*table).to_owned(),
                [alias] => named(text, alias),
                [] => continue,
            };
            if !table.is_empty() {
                found.push(table);
            }
        }
    }
    for (_, rest) in text
        .match_indices("keep_rows! {")
        .map(|(at, sign)| text.split_at(at + sign.len()))
    {
        if let Some((_, name)) = rest.split_once("table: ") {
            found.push(word(name).to_owned());
        }
    }
    found
}

fn word(text: &str) -> &str {
    let end = text
        .find(|c: char| !c.is_alphanumeric() && c != '_')
        .unwrap_or(text.len());
    text.get(..end).unwrap_or(text)
}

/// The table that `use … as alias` names.
fn named(text: &str, alias: &str) -> String {
    text.split_once(&format!(" as {alias}"))
        .and_then(|(before, _)| {
            before
                .rsplit(|c: char| !c.is_alphanumeric() && c != '_')
                .next()
        })
        .unwrap_or(alias)
        .to_owned()
}

#[test]
fn tidy_a_table_has_one_writer() {
    let slices = slices();
    let mut wrong = Vec::new();
    for (file, text) in sources(&["api/src"]) {
        if is_test(&file) || WRITERS.iter().any(|(writer, _)| *writer == file) {
            continue;
        }
        let tables = written(&text);
        let is_store = file.ends_with("/store.rs") || file.contains("/store/");
        if !tables.is_empty() && !is_store {
            wrong.push(format!(
                "{file}: writes to {tables:?}; all SQL stands in a store.rs"
            ));
            continue;
        }
        for table in tables {
            let slice = file.trim_start_matches("api/src/").split('/').next();
            let whose = owner(&slices, &table);
            if whose.map(String::as_str) != slice {
                wrong.push(format!(
                    "{file}: writes to {table}, which belongs to {whose:?}: let that slice write \
                     it, by a function of its mod.rs or store.rs"
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn tidy_slices_are_reached_by_their_doors() {
    let mut wrong = Vec::new();
    for slice in slices() {
        let file = format!("api/src/{slice}/mod.rs");
        let text = std::fs::read_to_string(project().join(&file)).unwrap();
        for line in text.lines() {
            let module = line
                .strip_prefix("pub mod ")
                .or_else(|| line.strip_prefix("pub(crate) mod "))
                .map(|name| name.trim_end_matches(';'));
            if let Some(module) = module
                && !matches!(module, "store" | "pages")
                && !REACHED.contains(&(slice.as_str(), module))
            {
                wrong.push(format!(
                    "{file}: `{module}` is open to other slices: make it private and let mod.rs \
                     name what they may use"
                ));
            }
        }
    }
    for (slice, module) in REACHED {
        let text = std::fs::read_to_string(project().join(format!("api/src/{slice}/mod.rs")));
        let open = text.is_ok_and(|text| text.contains(&format!(" mod {module};")));
        if !open {
            wrong.push(format!(
                "{slice}::{module} is closed: take it out of REACHED"
            ));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn tidy_a_writer_is_found_however_it_writes() {
    let text = "use crate::schema::{runs_run as runs, limits_limit::dsl};\n\
                diesel::insert_into(runs::table);\n\
                diesel::update(\n  dsl::limits_limit.filter(x));\n\
                sql_query(\"INSERT INTO holds_hold (a) SELECT 1\"); keep_rows! { table: lots_lot, }";
    let mut found = written(text);
    found.sort();
    assert_eq!(
        found,
        ["holds_hold", "limits_limit", "lots_lot", "runs_run"]
    );
    let slices = ["kit_lots".to_owned(), "lots".to_owned()];
    assert_eq!(owner(&slices, "lots_party"), slices.get(1));
    assert_eq!(owner(&slices, "kit_lots_kit_lot"), slices.first());
    assert_eq!(owner(&slices, "elsewhere_row"), None);
}
