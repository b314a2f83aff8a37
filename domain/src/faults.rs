//! What is wrong with something that was handed in, field by field.
//!
//! A room that checks an entered thing gathers every fault before it refuses, so that a person
//! mends all of them at once.

/// One thing wrong, and where: a JSON pointer (RFC 6901) into what was handed in.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[cfg_attr(feature = "openapi", derive(utoipa::ToSchema))]
pub struct Fault {
    /// JSON pointer to the member, such as `/analytes/0/lod`; empty for the whole.
    pub pointer: String,
    /// What is wrong, with the value, and what to do.
    pub detail: String,
}

/// The faults of one thing that was handed in.
///
/// ```
/// use domain::faults::Faults;
/// let mut faults = Faults::default();
/// faults.require(10 > 1, "/mass_kg", || "is above zero".into());
/// assert!(faults.clone().into_result().is_ok());
/// faults.add("/mass_kg", "0 kg is no mass: give what the weighbridge showed");
/// assert!(faults.into_result().is_err());
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, thiserror::Error)]
#[error("{} of the fields cannot be taken as they are", .0.len())]
pub struct Faults(pub Vec<Fault>);

impl Faults {
    /// Notes one fault.
    pub fn add(&mut self, pointer: impl Into<String>, detail: impl Into<String>) {
        self.0.push(Fault {
            pointer: pointer.into(),
            detail: detail.into(),
        });
    }

    /// Notes a fault unless `holds`.
    pub fn require(
        &mut self,
        holds: bool,
        pointer: impl Into<String>,
        detail: impl FnOnce() -> String,
    ) {
        if !holds {
            self.add(pointer, detail());
        }
    }

    /// Notes the faults of a part, its pointers below `prefix`.
    pub fn nest(&mut self, prefix: &str, part: Result<(), Self>) {
        if let Err(Self(faults)) = part {
            self.0.extend(faults.into_iter().map(|fault| Fault {
                pointer: format!("{prefix}{}", fault.pointer),
                detail: fault.detail,
            }));
        }
    }

    /// Nothing, where there is no fault.
    ///
    /// # Errors
    /// The faults themselves, where there are any.
    pub fn into_result(self) -> Result<(), Self> {
        if self.0.is_empty() { Ok(()) } else { Err(self) }
    }
}
