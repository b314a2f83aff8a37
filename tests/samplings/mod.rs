//! Samplings over HTTP.

mod record_sampling;
mod revise_sampling;
