//! Series over HTTP.

mod open_series;
