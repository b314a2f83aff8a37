//! Logs: one JSON line an event where nobody sits at a terminal, readable lines where
//! somebody does.
//!
//! Never logged: passwords, tokens, bodies, names of people.

use std::io::IsTerminal;
use tracing_subscriber::{EnvFilter, fmt};

/// Starts logging to standard error, filtered by `RUST_LOG` (else `info`). A second call changes
/// nothing.
pub fn start() {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_unset| EnvFilter::new("info"));
    let builder = fmt().with_env_filter(filter).with_writer(std::io::stderr);
    let started = if std::io::stderr().is_terminal() {
        builder.compact().try_init()
    } else {
        builder.json().try_init()
    };
    if let Err(already) = started {
        tracing::debug!(%already, "logging was started before");
    }
}
