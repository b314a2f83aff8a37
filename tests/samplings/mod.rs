//! Samplings over HTTP.

mod departures;
mod record_sampling;
mod revise_sampling;
