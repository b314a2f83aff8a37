//! The command line: `serve`, `migrate`, `set-up`, `demo`, `openapi`, `verify`, `rebuild`.

use actix_web::web;
use api::{
    app::{self, App},
    clock::Clock,
    config::Config,
    error::{ApiError, chain},
    laboratories::{SetUp, set_up},
    ledger::ExportLog,
    migrations::migrate,
    telemetry,
    verify::Verify,
    verify_ledger::VerifyLedger,
};
use domain::{laboratories::Laboratory, ledger::Report};
use std::{collections::HashMap, io::Write as _, process::ExitCode, time::Duration};

type Failure = Box<dyn std::error::Error>;

const USAGE: &str = "assize — the record of quantitative strip tests for mycotoxins in grain

  assize serve       serve the API
  assize migrate     bring the database to the newest form
  assize set-up --slug S --name N --address A --time-zone Z --prefix P
                --login L --printed-name N   (the password is read from ASSIZE_SET_UP_PASSWORD)
                [--signer-retention-years Y]
                     set up a laboratory with its first administrator
  assize demo --url URL
                     load the demo laboratory through the service at URL; prints its accounts
  assize openapi     print the API document
  assize verify FILE [--trust T] [--json]
                     check a certificate's bundle or PDF, offline, with the laboratory's trust file;
                     exit status: 0 verified and logged, 1 a check failed, 2 cannot be checked,
                     3 no trust file, so no signature was checked, 4 signed but not logged
  assize export-log --laboratory SLUG --to FILE [--log N]
                     write the archive of a laboratory's log, up to its newest checkpoint
  assize verify-ledger ARCHIVE [--checkpoint FILE]... [--trust T] [--without-recomputation]
                [--json]
                     check the archive of a laboratory's whole log, offline; exit status: 0 all
                     holds, 1 a check failed, 2 cannot be checked, 3 it holds by the keys that it
                     brings itself: no trust file was given
  assize rebuild --check [--laboratory SLUG]
                     replay the records beside the live tables and compare, row by row; changes
                     nothing; exit status: 0 equal, 1 a row says something else than the records,
                     2 it cannot be checked
";

#[actix_web::main]
async fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match run(&arguments).await {
        Ok(code) => code,
        Err(failure) => {
            say(&mut std::io::stderr(), &chain(failure.as_ref()));
            ExitCode::FAILURE
        }
    }
}

fn say(to: &mut impl std::io::Write, text: &str) {
    // Whoever closed the pipe does not want to read it.
    drop(writeln!(to, "{text}"));
}

async fn run(arguments: &[String]) -> Result<ExitCode, Failure> {
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["serve"] => serve().await?,
        ["migrate"] => {
            telemetry::start();
            let config = Config::from_environment()?;
            let done = migrate(&config.migration_database_url).await?;
            say(
                &mut std::io::stderr(),
                &format!("{} migrations were run", done.len()),
            );
        }
        ["set-up", rest @ ..] => set_up_laboratory(rest).await?,
        ["openapi"] => {
            let text = app::document().to_pretty_json()?;
            let mut out = std::io::stdout().lock();
            writeln!(out, "{text}")?;
        }
        ["demo", "--url", url] => load_demo(url).await?,
        ["verify", rest @ ..] => return verify(rest),
        ["export-log", rest @ ..] => return export_log(rest).await,
        ["verify-ledger", rest @ ..] => return verify_ledger(rest),
        ["rebuild", "--check"] => return check_read_model(None).await,
        ["rebuild", "--check", "--laboratory", slug] => {
            return check_read_model(Some(slug)).await;
        }
        _ => {
            say(&mut std::io::stderr(), USAGE);
            return Ok(ExitCode::from(64));
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// Needs no settings: whoever verifies has only the two files.
fn verify(arguments: &[&str]) -> Result<ExitCode, Failure> {
    let wanted = match Verify::from_arguments(arguments) {
        Ok(wanted) => wanted,
        Err(refused) => {
            say(&mut std::io::stderr(), &format!("{refused}\n\n{USAGE}"));
            return Ok(ExitCode::from(64));
        }
    };
    tell(&wanted.run(), wanted.json)
}

/// Needs no settings either: whoever verifies has only the files.
fn verify_ledger(arguments: &[&str]) -> Result<ExitCode, Failure> {
    let wanted = match VerifyLedger::from_arguments(arguments) {
        Ok(wanted) => wanted,
        Err(refused) => {
            say(&mut std::io::stderr(), &format!("{refused}\n\n{USAGE}"));
            return Ok(ExitCode::from(64));
        }
    };
    tell(&wanted.run(), wanted.json)
}

async fn export_log(arguments: &[&str]) -> Result<ExitCode, Failure> {
    telemetry::start();
    let wanted = match ExportLog::from_arguments(arguments) {
        Ok(wanted) => wanted,
        Err(refused) => {
            say(&mut std::io::stderr(), &format!("{refused}\n\n{USAGE}"));
            return Ok(ExitCode::from(64));
        }
    };
    let state = App::new(Config::from_environment()?, Clock::default())?;
    let manifest = wanted.run(&state).await?;
    let counts = manifest.counts;
    say(
        &mut std::io::stderr(),
        &format!(
            "{}: {} entries, {} records, {} disclosures, {} checkpoints",
            wanted.to.display(),
            counts.entries,
            counts.records,
            counts.disclosures,
            counts.checkpoints
        ),
    );
    Ok(ExitCode::SUCCESS)
}

fn tell(report: &Report, json: bool) -> Result<ExitCode, Failure> {
    let text = if json {
        serde_json::to_string_pretty(report)?
    } else {
        report.to_string()
    };
    say(&mut std::io::stdout(), &text);
    Ok(ExitCode::from(report.status().exit()))
}

async fn check_read_model(only: Option<&str>) -> Result<ExitCode, Failure> {
    telemetry::start();
    let config = Config::from_environment()?;
    let checked = match api::rebuild::check(&config.migration_database_url, only).await {
        Ok(checked) => checked,
        Err(failed) => {
            say(&mut std::io::stderr(), &chain(&failed));
            return Ok(ExitCode::from(2));
        }
    };
    for laboratory in &checked {
        say(&mut std::io::stdout(), &laboratory.to_string());
    }
    let is_equal = checked.iter().all(api::rebuild::Checked::is_equal);
    Ok(if is_equal {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

async fn serve() -> Result<(), Failure> {
    telemetry::start();
    let config = Config::from_environment()?;
    let address = config.listen;
    let state = web::Data::new(App::new(config, Clock::default())?);
    // What was erased stays erased, also in a database that was put back to an older state: before
    // the listener opens.
    while let Err(error) = api::erasures::replay(&state).await {
        if !matches!(error, ApiError::Unavailable(_)) {
            return Err(error.into());
        }
        tracing::warn!(
            error = chain(&error),
            "cannot look whether erasures are due yet"
        );
        tokio::time::sleep(Duration::from_secs(1)).await;
    }
    api::ledger::check_standing(&state.db).await?;
    let listener = std::net::TcpListener::bind(address)?;
    tracing::info!(address = %listener.local_addr()?, "serving");
    app::serve(state, listener)?.await?;
    Ok(())
}

/// The password is kept beside the state of this installation, so that loading can go on after it
/// was cut off.
fn demo_password() -> Result<String, Failure> {
    use std::os::unix::fs::OpenOptionsExt as _;
    let room = std::env::var("ASSIZE_STATE_DIR").unwrap_or_else(|_unset| ".".to_owned());
    let path = std::path::Path::new(&room).join("demo-password");
    if let Ok(known) = std::fs::read_to_string(&path) {
        return Ok(known.trim().to_owned());
    }
    std::fs::create_dir_all(&room)?;
    let password = api::demo::fresh_password()?;
    let mut file = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&path)?;
    writeln!(file, "{password}")?;
    Ok(password)
}

async fn load_demo(url: &str) -> Result<(), Failure> {
    telemetry::start();
    let config = Config::from_environment()?;
    let owner = config.migration_database_url.clone();
    let state = App::new(config, Clock::default())?;
    let password = demo_password()?;
    let loaded = api::demo::load(&state, &owner, url, &password).await?;
    say(
        &mut std::io::stdout(),
        &format!("Laboratory \"{}\":\n{}", api::demo::SLUG, loaded.accounts),
    );
    Ok(())
}

async fn set_up_laboratory(arguments: &[&str]) -> Result<(), Failure> {
    telemetry::start();
    let mut given = HashMap::new();
    for pair in arguments.chunks(2) {
        match pair {
            [name, value] => given.insert(*name, (*value).to_owned()),
            _ => return Err(format!("each option takes a value\n\n{USAGE}").into()),
        };
    }
    let mut take = |name: &str| {
        given
            .remove(name)
            .ok_or_else(|| format!("{name} is missing\n\n{USAGE}"))
    };
    let retention = take("--signer-retention-years")
        .ok()
        .map(|years| years.parse())
        .transpose()
        .map_err(|fault| format!("--signer-retention-years: {fault}"))?;
    let wanted = SetUp {
        laboratory: Laboratory {
            slug: take("--slug")?,
            name: take("--name")?,
            address: take("--address")?,
            telephone: None,
            email: None,
            time_zone: take("--time-zone")?,
            certificate_prefix: take("--prefix")?,
            signer_retention_years: retention,
            log_readers: Default::default(),
        },
        login: take("--login")?,
        printed_name: take("--printed-name")?,
        password: std::env::var("ASSIZE_SET_UP_PASSWORD")
            .map_err(|unset| format!("ASSIZE_SET_UP_PASSWORD: {unset}"))?,
    };
    let config = Config::from_environment()?;
    let owner = config.migration_database_url.clone();
    let state = App::new(config, Clock::default())?;
    let key = set_up(&state, &owner, wanted).await?;
    say(
        &mut std::io::stderr(),
        &format!("laboratory \"{}\" is set up ({})", key.slug, key.id),
    );
    Ok(())
}
