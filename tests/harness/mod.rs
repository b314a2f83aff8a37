//! What every test stands on: a real PostgreSQL, and a database of its own for each test.

mod cluster;
pub(crate) mod database;
