//! The tests of the service, one binary: each test has a database of its own.

mod harness;
