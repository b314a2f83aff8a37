//! From what is recorded of a sample to its results, its own holds and those of its runs.
//!
//! Promises that the service, which computes from the newest versions, and a verifier, which
//! computes from the versions that a record names, call the same functions and so get the same;
//! and that whatever a computation looked at stands in the sources that it names. Refuses rules
//! of a number that was never released.
//!
//! | module | question it answers |
//! |---|---|
//! | `shared` | what do many samples share? |
//! | `dossier` | what is there of one sample? |
//! | `asked` | which limits apply, and by which rule is decided? |
//! | `evidence` | how sure are volumes, masses and the procedure's bias? |
//! | `result` | what is the result of one analyte? |
//! | `run` | what is amiss with one run? |
//! | `sample` | what is amiss with a sample as a whole? |
//! | `recorded` | what does a record say, whatever of it is concealed? |
//! | `sources` | what do the versions say that one record names? |
//! | `screening` | do a validation's recorded figures follow from what they name? |
//! | `again` | does a derived record say what its rules say? |
//! | `standing` | did a hold stand in the way of a release? |

mod again;
mod asked;
mod dossier;
mod evidence;
mod recorded;
mod result;
mod run;
mod sample;
mod screening;
mod shared;
mod sources;
mod standing;

pub use again::{Again, Derived, Versions};
pub use asked::{Asked, LimitsThatApply, asked};
pub use dossier::{Dossier, RecordedRun};
pub use recorded::{RecordedContent, RecordedVersion};
pub use result::{AssessmentError, compute_result, compute_result_anew};
pub use run::{RunBackground, utc_offset_s};
pub use sample::SampleBackground;
pub use shared::SharedFacts;
pub use sources::{Goods, NamedVersions};
pub use standing::{ReleasedResult, StandingHolds};
