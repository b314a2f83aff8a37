//! The tests of the service, one binary: each test has a database of its own.
#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test that cannot go on must stop"
)]

mod calculator;
mod certificates;
mod column_maps;
mod control_charts;
mod control_materials;
mod customers;
mod equipment;
mod erasures;
mod features;
mod harness;
mod identity;
mod imports;
mod kit_lots;
mod laboratories;
mod ledger;
mod limits;
mod lots;
mod migrations;
mod openapi;
mod orders;
mod pages;
mod permissions;
mod preparations;
mod procedures;
mod readers;
mod rebuild;
mod refusals;
mod requirements;
mod results;
mod reviews;
mod runs;
mod samples;
mod samplings;
mod screening_validations;
mod series;
mod sites;
mod tidy;
mod verify;
mod verify_ledger;
mod vocabulary;
mod walk;
