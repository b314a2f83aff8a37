//! Who may do what, as a file that a laboratory's manager can read: `permissions.txt`.

use std::path::Path;

/// Where the project's files stand.
pub(crate) fn project() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// Compares a checked-in file with what it must say; writes it where the variable asks for that.
pub(crate) fn checked_in(file: &str, expected: &str, variable: &str, remedy: &str) {
    let path = project().join(file);
    if std::env::var_os(variable).is_some_and(|value| value == "1") {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, expected).unwrap();
    }
    let found = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = found
        .lines()
        .zip(expected.lines())
        .enumerate()
        .find(|(_, (old, new))| old != new)
        .map_or_else(
            || "the one is longer than the other".to_owned(),
            |(line, (old, new))| format!("line {}: \"{old}\" should be \"{new}\"", line + 1),
        );
    assert!(
        found == expected,
        "{file} is stale ({differs}). {remedy}: {variable}=1 ./dev test {variable_word}",
        variable_word = path.file_stem().unwrap_or_default().to_string_lossy(),
    );
}

#[test]
fn permissions_stand_in_the_file_that_managers_read() {
    checked_in(
        "tests/permissions.txt",
        &domain::identity::table(),
        "UPDATE_PERMISSIONS",
        "Somebody may do what they could not, or no more what they could. Where that is meant, \
         write the file again",
    );
}
