//! What records say, read back as what a computation takes.
//!
//! Promises that a concealed value never bears on a computation: whether its disclosure is left or
//! was erased, the same is read. Refuses a content that is not of the form of its kind.

use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use crate::accounts::{self, Account};
use crate::control_materials::{self, ControlMaterial};
use crate::equipment::{self, Equipment, EquipmentCheck};
use crate::holds::{self, Hold};
use crate::kit_lots::{self, KitLot};
use crate::ledger::disclosure::DIGESTS;
use crate::limits::{self, Limit};
use crate::lots::{self, Lot};
use crate::orders::{self, Order};
use crate::preparations::{self, Preparation};
use crate::procedures::{self, Procedure};
use crate::readers::{self, Reader};
use crate::results::{self, ResultVersion};
use crate::runs::{self, Run};
use crate::samples::{self, Sample};
use crate::samplings::{self, Sampling};
use crate::screening_validations::{self, ScreeningReview, ScreeningValidation};
use crate::sites::{self, Site};
use crate::versions::SubjectVersion;

/// A record's content, as far as a computation may look at it.
#[derive(Debug, Clone)]
pub enum RecordedContent {
    /// A sample.
    Sample(Sample),
    /// A sampling.
    Sampling(Sampling),
    /// A lot.
    Lot(Lot),
    /// An order.
    Order(Order),
    /// A step of a preparation.
    Preparation(Preparation),
    /// A run.
    Run(Run),
    /// A procedure.
    Procedure(Procedure),
    /// A kit lot.
    KitLot(KitLot),
    /// A reader.
    Reader(Reader),
    /// A piece of equipment.
    Equipment(Equipment),
    /// A check of equipment or of a reader.
    EquipmentCheck(EquipmentCheck),
    /// A control material.
    ControlMaterial(ControlMaterial),
    /// A site.
    Site(Site),
    /// An account.
    Account(Account),
    /// A limit.
    Limit(Limit),
    /// A result.
    Result(ResultVersion),
    /// A hold.
    Hold(Hold),
    /// A validation of a screening method.
    ScreeningValidation(Box<ScreeningValidation>),
    /// A review of one.
    ScreeningReview(Box<ScreeningReview>),
    /// Anything else: nothing is computed from it.
    Other,
}

/// One version of a subject, read back.
#[derive(Debug, Clone)]
pub struct RecordedVersion {
    /// Which version of which subject.
    pub source: SubjectVersion,
    /// The entry that recorded it.
    pub entry: u64,
    /// What it says.
    pub content: RecordedContent,
}

impl RecordedContent {
    /// Reads the content of a record of a kind.
    ///
    /// # Errors
    /// Where it is not of the form of its kind.
    ///
    /// ```
    /// use domain::assessment::RecordedContent;
    /// let content = serde_json::json!({"_sd": ["Gqde56fGlomOzb3yPIkFq5DYU3HqDDjZwpKMn9KUmXY"],
    ///     "roles": ["analyst"], "authorisations": []});
    /// // Whose account it was is concealed; what they were authorised for is not.
    /// let read = RecordedContent::read("account", content.clone());
    /// assert!(matches!(read, Ok(RecordedContent::Account(_))), "{read:?}");
    /// assert!(matches!(RecordedContent::read("customer", content.clone())?,
    ///     RecordedContent::Other));
    /// assert!(RecordedContent::read("hold", content).is_err());
    /// # Ok::<(), serde_json::Error>(())
    /// ```
    pub fn read(kind: &str, content: Value) -> Result<Self, serde_json::Error> {
        Ok(match kind {
            "sample" => Self::Sample(opened(content, samples::DISCLOSED)?),
            "sampling" => Self::Sampling(opened(content, samplings::DISCLOSED)?),
            "lot" => Self::Lot(opened(content, lots::DISCLOSED)?),
            "order" => Self::Order(opened(content, orders::DISCLOSED)?),
            "preparation" => Self::Preparation(opened(content, preparations::DISCLOSED)?),
            "run" => Self::Run(opened(content, runs::DISCLOSED)?),
            "procedure" => Self::Procedure(opened(content, procedures::DISCLOSED)?),
            "kit-lot" => Self::KitLot(opened(content, kit_lots::DISCLOSED)?),
            "reader" => Self::Reader(opened(content, readers::DISCLOSED)?),
            "equipment" => Self::Equipment(opened(content, equipment::DISCLOSED)?),
            "equipment-check" => Self::EquipmentCheck(opened(content, equipment::DISCLOSED)?),
            "control-material" => {
                Self::ControlMaterial(opened(content, control_materials::DISCLOSED)?)
            }
            "site" => Self::Site(opened(content, sites::DISCLOSED)?),
            "account" => Self::Account(opened(content, accounts::DISCLOSED)?),
            "limit" => Self::Limit(opened(content, limits::DISCLOSED)?),
            "result" => Self::Result(opened(content, results::DISCLOSED)?),
            "hold" => Self::Hold(opened(content, holds::DISCLOSED)?),
            "screening-validation" => {
                Self::ScreeningValidation(opened(content, screening_validations::DISCLOSED)?)
            }
            "screening-review" => {
                Self::ScreeningReview(opened(content, screening_validations::DISCLOSED)?)
            }
            _ => Self::Other,
        })
    }
}

/// The content with a mark where something is concealed.
fn opened<T: DeserializeOwned>(
    mut content: Value,
    concealed: &[&str],
) -> Result<T, serde_json::Error> {
    for path in concealed {
        let steps: Vec<&str> = path.split('/').skip(1).collect();
        mark(&mut content, &steps);
    }
    strip(&mut content);
    serde_json::from_value(content)
}

fn mark(value: &mut Value, steps: &[&str]) {
    let Some((step, rest)) = steps.split_first() else {
        return;
    };
    match value {
        Value::Object(members) if rest.is_empty() => mark_member(members, step),
        Value::Object(members) => {
            if let Some(member) = members.get_mut(*step) {
                mark(member, rest);
            }
        }
        Value::Array(elements) if *step == "*" => {
            elements.iter_mut().for_each(|one| mark(one, rest));
        }
        Value::Array(_) | Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

fn mark_member(members: &mut Map<String, Value>, name: &str) {
    if members.contains_key(DIGESTS) && !members.contains_key(name) {
        members.insert(name.to_owned(), Value::from("concealed"));
    }
}

fn strip(value: &mut Value) {
    match value {
        Value::Array(elements) => elements.iter_mut().for_each(strip),
        Value::Object(members) => {
            members.remove(DIGESTS);
            members.values_mut().for_each(strip);
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}
