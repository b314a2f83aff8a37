//! The ledger's bytes: what is hashed, signed, logged and handed out, and how it is checked.
//!
//! Promises the same bytes for the same facts, everywhere and for good; refuses what is not in the
//! one form that is written. Standards: RFC 8785 (canonical JSON), RFC 7515 (JWS), RFC 9162
//! (Merkle tree), RFC 9901 (disclosures), C2SP signed notes, checkpoints and proofs.
//!
//! | module | question it answers |
//! |---|---|
//! | [`hash`] | which 32 bytes stand for these? |
//! | [`strict_json`] | is this JSON that every reader reads alike? |
//! | [`canonical`] | which bytes does a JSON value have? |
//! | [`key`] | does this key stand behind this signature? |
//! | [`jws`] | how is a signature carried? |
//! | [`members`] | is this the object that was expected? |
//! | [`disclosure`] | where does personal data go, so that it can be erased? |
//! | [`record`] | what was true of a subject? |
//! | [`act`] | who did what in one transaction? |
//! | [`tree`] | which root has a list of hashes, and is this one under it? |
//! | [`tile`] | in which file do a log's hashes stand? |
//! | [`head`] | how far has a log come, and what goes on from there? |
//! | [`log`] | what is recorded when a log begins? |
//! | [`note`] | who signed this text? |
//! | [`checkpoint`] | how far had the log come, and is this entry under it? |
//! | [`witness`] | did enough others see the same log? |
//! | [`timestamp`] | did somebody outside say when a checkpoint was there? |
//! | [`certificate`] | what was certified, as it is signed? |
//! | [`bundle`] | what is handed out with a certificate? |
//! | [`trust`] | whose keys does a verifier trust, and for which entries? |
//! | [`verify`], [`report`] | does a bundle hold, and why? |
//! | [`archive`] | does a whole log hold, act by act and from one to the next? |

pub mod act;
pub mod archive;
pub mod bundle;
pub mod canonical;
pub mod certificate;
pub mod checkpoint;
pub mod disclosure;
pub mod hash;
pub mod head;
pub mod jws;
pub mod key;
pub mod log;
pub mod members;
pub mod note;
pub mod record;
pub mod report;
pub mod rotation;
pub mod strict_json;
pub mod tile;
pub mod timestamp;
pub mod tree;
pub mod trust;
pub mod verify;
pub mod witness;

pub use act::{Act, Actor, Entry, Reason};
pub use disclosure::Disclosure;
pub use hash::Hash;
pub use key::{PublicKey, SecretKey};
pub use record::{Record, RecordDraft, SealedRecord};
pub use report::Report;
pub use verify::verify_bundle;
