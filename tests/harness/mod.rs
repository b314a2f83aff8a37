//! What every test stands on: a real PostgreSQL, a database of its own for each test, the real
//! server on a port of its own, and callers who use public routes only.

pub(crate) mod browser;
pub(crate) mod callers;
mod cluster;
pub(crate) mod database;
pub(crate) mod fixtures;
pub(crate) mod own_cluster;
pub(crate) mod service;
