//! Limits over HTTP.

mod adopt_limit;
mod list_applicable_limits;
mod list_limits;
mod propose_limit;

use serde_json::{Value, json};

/// The intake's own level for deoxynivalenol in wheat. Invented.
pub(crate) fn intake_level() -> Value {
    json!({
        "code": "intake-wheat-don", "authority": {"kind": "intake"},
        "analyte": "deoxynivalenol", "commodity": "wheat", "intended_use": "flour milling",
        "value": "900", "basis": "as-is", "comparison": "exceeds",
        "source": "Intake rules 7, section 4",
        "scopes": [{"commodities": ["wheat-grain"], "uses": ["food"]}],
    })
}
