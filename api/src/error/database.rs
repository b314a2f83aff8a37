//! What the database refuses, as the caller is told it: by the name of the constraint, in one
//! table.
//!
//! Promises that a lost connection is told apart from a fault of ours.

use super::ApiError;

impl From<diesel::result::Error> for ApiError {
    fn from(error: diesel::result::Error) -> Self {
        use diesel::result::{DatabaseErrorKind as Kind, Error};
        let info = if let Error::DatabaseError(_, info) = &error {
            Some(info)
        } else {
            None
        };
        let constraint = info.and_then(|info| info.constraint_name());
        let is_gone = matches!(
            error,
            Error::DatabaseError(Kind::ClosedConnection | Kind::UnableToSendCommand, _)
                | Error::BrokenTransactionManager
        ) || info.is_some_and(|info| is_shutdown(info.message()));
        let known = if matches!(error, Error::DatabaseError(Kind::UniqueViolation, _)) {
            constraint
                .and_then(duplicate)
                .map(|detail| Self::Duplicate(detail.to_owned()))
        } else if matches!(error, Error::DatabaseError(Kind::ForeignKeyViolation, _)) {
            constraint.and_then(reference).map(|pointer| {
                Self::field(
                    pointer,
                    "There is nothing with this id in this laboratory. Look it up in the list.",
                )
            })
        } else if info.is_some_and(|info| is_no_time(info.message())) {
            Some(Self::Malformed(
                "A day or a time lies outside what can be kept. Give one of the years 0001 to 9999."
                    .to_owned(),
            ))
        } else {
            None
        };
        match known {
            Some(refusal) => refusal,
            None if is_gone => Self::Unavailable(error.into()),
            None => Self::internal(error),
        }
    }
}

/// Whether a day or a time was sent that PostgreSQL has no room for.
fn is_no_time(message: &str) -> bool {
    ["date out of range", "timestamp out of range"].contains(&message)
}

fn is_shutdown(message: &str) -> bool {
    [
        "terminating connection",
        "the database system is",
        "connection closed",
        "cannot execute",
    ]
    .iter()
    .any(|sign| message.contains(sign))
}

/// What a unique key says, by its name.
fn duplicate(constraint: &str) -> Option<&'static str> {
    Some(match constraint {
        "column_maps_column_map_name_key" => {
            "A column map has this name already. Choose another, or revise that one."
        }
        "identity_account_login_key" => "Somebody has this login already. Choose another.",
        "readers_reader_serial_key" => "A reader with this serial number is registered already.",
        "samples_barcode_pkey" => {
            "This barcode is on another sample already. Scan the right one, or print a new label."
        }
        name if name.ends_with("_code_key") => {
            "This code is in use in this laboratory already. Choose another, or look the thing up."
        }
        _ => return None,
    })
}

/// Which member a foreign key speaks of: `<table>_<column>_fkey`.
fn reference(constraint: &str) -> Option<&'static str> {
    Some(match constraint.strip_suffix("_fkey")? {
        name if name.ends_with("_customer_id") => "/customer",
        name if name.ends_with("_parent_id") => "/parent",
        name if name.ends_with("_order_id") => "/order",
        name if name.ends_with("_lot_id") => "/lot",
        name if name.ends_with("_site_id") => "/site",
        name if name.ends_with("_reader_id") => "/reader",
        name if name.ends_with("_equipment_id") => "/equipment",
        name if name.ends_with("_kit_lot_id") => "/kit_lot",
        name if name.ends_with("_sampling_id") => "/sampling",
        name if name.ends_with("_control_material_id") => "/control_material",
        name if name.ends_with("_sample_id") => "/sample",
        name if name.ends_with("_column_map_id") => "/column_map",
        _ => return None,
    })
}
