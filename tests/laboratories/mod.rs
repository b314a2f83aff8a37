//! The laboratory itself over HTTP.

mod revise_laboratory;
