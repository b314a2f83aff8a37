//! Named places at which a test lets the process die, to show that nothing is lost there.
//!
//! They are compiled out of a release build.

/// Dies here, at once and without tidying up, where the environment variable `ASSIZE_FAIL_POINT`
/// has this name.
#[cfg(debug_assertions)]
pub(super) fn reach(name: &str) {
    if std::env::var("ASSIZE_FAIL_POINT").is_ok_and(|wanted| wanted == name) {
        std::process::abort();
    }
}

/// Nothing, in a release build.
#[cfg(not(debug_assertions))]
pub(super) const fn reach(_name: &str) {}
