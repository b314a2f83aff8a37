//! Results over HTTP: what they come with.

mod budgets;
