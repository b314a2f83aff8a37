//! What the service is told by its environment.
//!
//! Refuses to start with a value it cannot use, naming the variable.

use crate::ledger::{self, Anchors, AnchorsError, TimeStampingAuthority};
use std::{
    net::SocketAddr,
    path::{Path, PathBuf},
};

/// Settings of one process.
#[derive(Debug, Clone)]
pub struct Config {
    /// Where PostgreSQL is: `DATABASE_URL`. The service takes its own role after logging in.
    pub database_url: String,
    /// Where migrations log in: `MIGRATION_DATABASE_URL`, else the same.
    pub migration_database_url: String,
    /// Address to listen on: `ASSIZE_LISTEN`, else `127.0.0.1:8480`.
    pub listen: SocketAddr,
    /// Address that others reach the service by, without a final slash: `ASSIZE_PUBLIC_URL`.
    pub public_url: String,
    /// File with the key-encryption key, 32 bytes in hex: `ASSIZE_KEY_FILE`.
    pub key_file: PathBuf,
    /// File with the seed of the token-signing key, 32 bytes in hex: `ASSIZE_TOKEN_KEY_FILE`.
    pub token_key_file: PathBuf,
    /// Connections to keep: `ASSIZE_POOL_SIZE`, 1 to 500, else 16.
    pub pool_size: usize,
    /// Where this host keeps what must outlive the database: `ASSIZE_STATE_DIR`, else the working
    /// directory.
    pub state_directory: PathBuf,
    /// Whether this process gives acts their entries in the log: `ASSIZE_SEQUENCER`, `on` or `off`,
    /// else on. Where it is off, another process has to.
    pub sequences: bool,
    /// Who outside is asked about checkpoints, else nobody: `ASSIZE_WITNESS_POLICY` (a file of
    /// C2SP tlog-policy); `ASSIZE_TIME_STAMP_URL` with `ASSIZE_TIME_STAMP_ROOTS` (certificates in
    /// PEM) and `ASSIZE_TIME_STAMP_INTERVAL_S` (0 to 604800, else 3600).
    pub anchors: Anchors,
    /// Largest upload in bytes: `ASSIZE_UPLOAD_LIMIT_BYTES`, else 67,108,864.
    pub upload_limit_bytes: usize,
}

/// A setting that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The variable is not set, and nothing else can stand for it.
    #[error("{0} is not set: {1}")]
    Missing(&'static str, &'static str),
    /// The parties outside cannot be asked.
    #[error(transparent)]
    Anchors(#[from] AnchorsError),
    /// The variable's value cannot be used.
    #[error("{name}=\"{value}\" cannot be used: {hint}")]
    Unusable {
        /// The variable.
        name: &'static str,
        /// What it holds.
        value: String,
        /// What it should hold.
        hint: &'static str,
    },
}

impl Config {
    /// Reads the environment.
    ///
    /// # Errors
    /// [`ConfigError`] names the first variable that is missing or cannot be used.
    pub fn from_environment() -> Result<Self, ConfigError> {
        let database_url = required("DATABASE_URL", "give the address of a PostgreSQL database")?;
        let listen: SocketAddr = parsed(
            "ASSIZE_LISTEN",
            "127.0.0.1:8480",
            "give an address and port such as 127.0.0.1:8480",
        )?;
        Ok(Self {
            migration_database_url: optional("MIGRATION_DATABASE_URL")
                .unwrap_or_else(|| database_url.clone()),
            database_url,
            public_url: optional("ASSIZE_PUBLIC_URL")
                .unwrap_or_else(|| format!("http://{listen}"))
                .trim_end_matches('/')
                .to_owned(),
            listen,
            key_file: required("ASSIZE_KEY_FILE", "name a file with 32 random bytes in hex")?
                .into(),
            token_key_file: required(
                "ASSIZE_TOKEN_KEY_FILE",
                "name a file with 32 random bytes in hex",
            )?
            .into(),
            pool_size: within("ASSIZE_POOL_SIZE", 16, 1..=500, "give 1 to 500")?,
            state_directory: optional("ASSIZE_STATE_DIR")
                .unwrap_or_else(|| ".".to_owned())
                .into(),
            sequences: match optional("ASSIZE_SEQUENCER").as_deref() {
                None | Some("on") => true,
                Some("off") => false,
                Some(value) => {
                    return Err(ConfigError::Unusable {
                        name: "ASSIZE_SEQUENCER",
                        value: value.to_owned(),
                        hint: "give on or off",
                    });
                }
            },
            anchors: anchors()?,
            upload_limit_bytes: within(
                "ASSIZE_UPLOAD_LIMIT_BYTES",
                64 << 20,
                1024..=1 << 30,
                "give 1024 to 1073741824",
            )?,
        })
    }
}

fn anchors() -> Result<Anchors, ConfigError> {
    let (policy, witnesses) = match optional("ASSIZE_WITNESS_POLICY") {
        Some(path) => {
            let (policy, witnesses) = ledger::witnesses(Path::new(&path))?;
            (Some(policy), witnesses)
        }
        None => (None, Vec::new()),
    };
    let authority = match optional("ASSIZE_TIME_STAMP_URL") {
        Some(url) => {
            let hint = "name a file with the certificates that its stamps must lead to, in PEM";
            let roots = required("ASSIZE_TIME_STAMP_ROOTS", hint)?;
            Some(TimeStampingAuthority {
                url,
                roots: ledger::roots(Path::new(&roots))?,
                interval_s: u32::try_from(within(
                    "ASSIZE_TIME_STAMP_INTERVAL_S",
                    3_600,
                    0..=604_800,
                    "give 0 to 604800",
                )?)
                .unwrap_or(3_600),
            })
        }
        None => None,
    };
    Ok(Anchors {
        witnesses,
        policy,
        authority,
    })
}

fn optional(name: &'static str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

fn required(name: &'static str, hint: &'static str) -> Result<String, ConfigError> {
    optional(name).ok_or(ConfigError::Missing(name, hint))
}

fn parsed<T: std::str::FromStr>(
    name: &'static str,
    default: &str,
    hint: &'static str,
) -> Result<T, ConfigError> {
    let value = optional(name).unwrap_or_else(|| default.to_owned());
    value
        .parse()
        .map_err(|_unreadable| ConfigError::Unusable { name, value, hint })
}

fn within(
    name: &'static str,
    default: usize,
    range: std::ops::RangeInclusive<usize>,
    hint: &'static str,
) -> Result<usize, ConfigError> {
    let value: usize = parsed(name, &default.to_string(), hint)?;
    if range.contains(&value) {
        return Ok(value);
    }
    Err(ConfigError::Unusable {
        name,
        value: value.to_string(),
        hint,
    })
}
